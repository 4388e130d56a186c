"""`manage.py inspect`: what should be mended or accepted in a circuit."""

import sys
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from typing import Any

from django.core.management.base import BaseCommand

from circuits.acceptances import FindingLine, finding_lines, findings_of
from circuits.documents.findings import inspection_document
from circuits.engine import EngineError
from circuits.inspection import inspect
from circuits.management.answering import CIRCUIT_REFUSALS, answering, given_circuit
from circuits.sheet import Sheet, to_network

OPEN_FINDINGS = 1


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
        with answering(self.stderr, (*CIRCUIT_REFUSALS, EngineError)):
            sheet, lines = _inspected(options["circuit"])
        if options["json"]:
            self.stdout.write(inspection_document(sheet, lines).model_dump_json(indent=1))
        else:
            self.stdout.write("\n".join(_told(sheet, lines)))
        if any(line.acceptance is None for line in lines):
            sys.exit(OPEN_FINDINGS)


def _inspected(circuit: str) -> tuple[Sheet, list[FindingLine]]:
    sheet, revision = given_circuit(circuit)
    if revision is not None:
        return sheet, finding_lines(revision.circuit, findings_of(revision))
    findings = inspect(sheet, to_network(sheet))
    return sheet, [FindingLine(finding=finding, acceptance=None) for finding in findings]


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
