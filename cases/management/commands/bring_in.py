"""`manage.py bring_in`: an older log into a shop, here and now."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.contrib.auth.models import User
from django.core.management import BaseCommand, CommandError
from django.utils import timezone

from cases.errors import BadRows, CaseError
from cases.models import LogState, OlderLog, Shop, Wanted
from cases.services.older_logs.refused import reasons_in_words, refused_file
from cases.services.older_logs.taking_in import go_through_log, keep_log

ALL_IN, SOME_REFUSED, BAD_INPUT = 0, 1, 2
#: More are read in the file of refused lines.
SHOWN_LINES = 20


class Command(BaseCommand):
    help = (
        "Bring an older log into a shop: a table (CSV) with a line for each case, or JSON with a"
        " case on each line. Good cases come in, each refused line is told with its reason, and"
        " running it twice doubles nothing. The worker gives the verdicts. Exit status: 0 if"
        " nothing was refused, 1 if something was, 2 if the file cannot be read at all."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Name the options."""
        parser.add_argument("file", metavar="FILE", type=Path, help="the log, in UTF-8")
        parser.add_argument("--shop", required=True, metavar="SLUG", help="the shop it comes into")
        parser.add_argument(
            "--by", required=True, metavar="NAME", help="an owner of the shop, who answers for it"
        )
        parser.add_argument(
            "--refused",
            metavar="FILE",
            type=Path,
            help="write the refused lines here, to be mended",
        )
        how = parser.add_mutually_exclusive_group()
        how.add_argument("--dry-run", action="store_true", help="check it; nothing comes in")
        how.add_argument(
            "--all-or-nothing", action="store_true", help="one bad line, and nothing comes in"
        )

    def handle(self, **options: Any) -> None:
        """Bring it in and say what became of it."""
        wanted = (
            Wanted.CHECK
            if options["dry_run"]
            else Wanted.ALL
            if options["all_or_nothing"]
            else Wanted.GOOD
        )
        try:
            log = keep_log(
                shop=_shop(options["shop"]),
                name=options["file"].name,
                content=options["file"].read_bytes(),
                wanted=wanted,
                by=_person(options["by"]),
                at=timezone.now(),
            )
        except BadRows as error:
            self.stderr.write(str(error))
            sys.exit(BAD_INPUT)
        except (CaseError, OSError) as error:
            raise CommandError(str(error), returncode=BAD_INPUT) from error
        while go_through_log(log_pk=log.pk, at=timezone.now(), told=self._tell):
            pass
        log = OlderLog.objects.get(pk=log.pk)
        self._report(log, options["refused"])
        if wanted == Wanted.CHECK:
            log.delete()
        if log.cases_refused:
            sys.exit(SOME_REFUSED)

    def _tell(self, log: OlderLog) -> None:
        if self.stderr.isatty():
            self.stderr.write(f"\r{log.cases_done} of {log.cases_in_all} cases", ending="")
            self.stderr.flush()

    def _report(self, log: OlderLog, refused: Path | None) -> None:
        if self.stderr.isatty():
            self.stderr.write("")
        lines = list(log.refused_lines.exclude(reasons=[])[: SHOWN_LINES + 1])
        for line in lines[:SHOWN_LINES]:
            self.stdout.write(f"line {line.line}: {reasons_in_words(line)}")
        if len(lines) > SHOWN_LINES:
            self.stdout.write("... and more; --refused FILE writes them all.")
        came = "came in" if log.state == LogState.TAKEN_IN else "can come in; nothing did yet"
        self.stdout.write(
            f"Of {log.cases_in_all} cases {log.cases_good} {came}, {log.cases_known} were here"
            f" already, {log.cases_refused} were refused."
        )
        if refused is not None:
            refused.write_text(refused_file(log), encoding="utf-8")


def _shop(slug: str) -> Shop:
    shop = Shop.objects.filter(slug=slug).first()
    if shop is None:
        known = ", ".join(Shop.objects.values_list("slug", flat=True)) or "none"
        raise CommandError(f"There is no shop '{slug}'; there are {known}.", returncode=BAD_INPUT)
    return shop


def _person(name: str) -> User:
    person = User.objects.filter(username=name).first()
    if person is None:
        raise CommandError(f"Nobody signs in as '{name}'.", returncode=BAD_INPUT)
    return person
