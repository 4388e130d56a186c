"""`manage.py rejudge`: queue the cases that an older engine judged."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand, CommandError

from cases.services.rejudging import queue_cases, queue_due_to_engine
from circuits.engine import ENGINE_VERSION
from circuits.errors import UnknownCircuit
from circuits.services import circuit_by_key, latest_revision


class Command(BaseCommand):
    help = (
        "Queue the cases whose verdict an older version of the engine gave; the worker judges them"
        " once more and tells the shops what changed. Old verdicts stay. Run it after an update."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Name the options."""
        parser.add_argument(
            "--circuit",
            metavar="KEY",
            help="queue the cases of this circuit that an older revision of it judged instead",
        )

    def handle(self, *, circuit: str | None, **options: Any) -> None:
        """Queue what is due and say how much that is."""
        if circuit is None:
            count, why = queue_due_to_engine(), f"another engine than {ENGINE_VERSION}"
        else:
            try:
                revision = latest_revision(circuit_by_key(circuit))
            except UnknownCircuit as error:
                raise CommandError(str(error)) from error
            count, why = queue_cases(revision), f"an older revision than {revision.number}"
        cases = "1 case that was" if count == 1 else f"{count} cases that were"
        print(f"Queued {cases} judged with {why}.")
        if count:
            print("The worker does them: manage.py work")
