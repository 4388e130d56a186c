"""`manage.py inspect`: what should be mended or accepted in a circuit."""

import sys
import traceback
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from circuits.acceptances import FindingLine, finding_lines, findings_of
from circuits.documents.findings import inspection_document
from circuits.engine import EngineError
from circuits.errors import CircuitError
from circuits.inspection import inspect
from circuits.services import circuit_by_key, latest_revision, sheet_of
from circuits.sheet import Sheet, SheetErrors, read_any, to_network

OPEN_FINDINGS = 1
BAD_INPUT = 2
OUR_BUG = 70


class NoSuchFile(ValueError):
    """The command was given a path at which there is no file."""


class Command(BaseCommand):
    help = (
        "Inspect a circuit: fuses, wires, returns, grounds, relays, and what can tell nothing. "
        "CIRCUIT is a file (text form or JSON) or the key of a stored circuit, whose accepted "
        "findings are known. Exit status: 0 nothing open, 1 open findings, 2 bad input, 70 a "
        "mistake of ours."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("circuit", metavar="CIRCUIT")
        parser.add_argument("--json", action="store_true", help="JSON for programs")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            sheet, lines = _inspected(options["circuit"])
        except (SheetErrors, CircuitError, EngineError, NoSuchFile, OSError) as error:
            self.stderr.write(str(error))
            sys.exit(BAD_INPUT)
        except Exception:
            self.stderr.write(traceback.format_exc())
            self.stderr.write("This is a mistake of ours; please report it with the lines above.")
            sys.exit(OUR_BUG)
        if options["json"]:
            self.stdout.write(inspection_document(sheet, lines).model_dump_json(indent=1))
        else:
            self.stdout.write("\n".join(_told(sheet, lines)))
        if any(line.acceptance is None for line in lines):
            sys.exit(OPEN_FINDINGS)


def _inspected(circuit: str) -> tuple[Sheet, list[FindingLine]]:
    path = Path(circuit)
    if path.is_file():
        sheet = read_any(path.read_bytes())
        findings = inspect(sheet, to_network(sheet))
        return sheet, [FindingLine(finding=finding, acceptance=None) for finding in findings]
    if path.suffix or len(path.parts) > 1:
        raise NoSuchFile(f"There is no file '{circuit}'.")
    stored = circuit_by_key(circuit)
    revision = latest_revision(stored)
    return sheet_of(revision), finding_lines(stored, findings_of(revision))


# ------------------------------------------------------------------------------------- form


def _told(sheet: Sheet, lines: Sequence[FindingLine]) -> Iterator[str]:
    yield sheet.vehicle.title
    if not lines:
        yield "The inspection finds nothing to mend."
    for line in lines:
        finding = line.finding
        yield ""
        yield f"{finding.gravity_words}: {finding.id}"
        yield f"  {finding.subject}: {finding.problem}"
        yield f"  Why: {finding.why}"
        yield f"  Mend: {finding.mend}"
        if finding.source:
            yield f"  Source: {finding.source}"
        if line.acceptance is not None:
            acceptance = line.acceptance
            name = acceptance.accepted_by.get_full_name() or acceptance.accepted_by.get_username()
            yield f"  Accepted by {name}, {acceptance.accepted_at:%d %b %Y}: {acceptance.reason}"
    yield ""
    yield "The maker's drawing, local codes and licensed practice come first."
