"""What the commands on case files share: the file, `--json`, and the exit status."""

import json
import sys
from argparse import ArgumentParser
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from cases.errors import CaseError
from cases.services.files import CaseFile, read_case_file
from circuits.engine import EngineError
from circuits.management.answering import DONE, answering, in_columns


class CaseCommand(BaseCommand):
    """A command that reads a case file and answers in a table or in JSON."""

    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("case_file", metavar="CASEFILE", help="a case as JSON")
        parser.add_argument("--json", action="store_true", help="JSON for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        with answering(self.stderr, (CaseError, EngineError)):
            case = read_case_file(Path(options["case_file"]))
            status, data, lines = self.answer(case, options)
        self.stdout.write(json.dumps(data, indent=1) if options["json"] else "\n".join(lines))
        if status != DONE:
            sys.exit(status)

    def answer(
        self, case: CaseFile, options: dict[str, Any]
    ) -> tuple[int, dict[str, Any], Iterable[str]]:
        """Return the exit status, the data for `--json`, and the lines for people."""
        raise NotImplementedError


def columns(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Return rows as lines with their cells under each other, as wide as the widest."""
    return in_columns(rows, [max(map(len, column)) for column in zip(*rows, strict=True)])
