"""`manage.py work`: the worker that judges cases once more in the background."""

import os
import signal
import sys
import threading
from argparse import ArgumentParser
from typing import Any, cast

from django.core.management import BaseCommand, CommandError
from django.db import OperationalError
from procrastinate.contrib.django import app
from procrastinate.contrib.django.django_connector import DjangoConnector


class Command(BaseCommand):
    help = (
        "Do the work that waits in the queue, such as judging cases once more when their circuit"
        " has a new revision. Runs until it is stopped; a job that is in hand is finished first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Name the options."""
        parser.add_argument(
            "--until-empty", action="store_true", help="end when nothing waits any more"
        )
        parser.add_argument(
            "--with-parent",
            action="store_true",
            help="end when standard input ends, as it does when the process that holds it is gone",
        )

    def handle(self, *, until_empty: bool, with_parent: bool, **options: Any) -> None:
        """Work until told to stop."""
        if with_parent:
            threading.Thread(target=stop_at_end_of_input, daemon=True).start()
        connector = cast(DjangoConnector, app.connector)
        try:
            with app.replace_connector(connector.get_worker_connector()) as working:
                working.run_worker(wait=not until_empty)
        except OperationalError as error:
            raise CommandError(str(error)) from error


def stop_at_end_of_input() -> None:
    """Wait for the end of standard input, then stop the orderly way."""
    # Read past Python's own buffer: its lock, held by this thread, would abort our own exit.
    while os.read(sys.stdin.fileno(), 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)
