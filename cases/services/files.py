"""Case files on disk: the document, its circuit and its lines, without a database."""

from dataclasses import dataclass, replace
from pathlib import Path

from cases.circuit import CaseCircuit, circuit_from_sheet
from cases.documents.cases import CaseDocument
from cases.errors import BadRows, RowProblem
from cases.judging.codes import CodesTold
from cases.judging.lines import Line
from cases.judging.nothing_fits import Rate
from cases.services.exchange import circuit_problems, read_case_document
from cases.services.searching import typed_lines
from circuits.sheet import SheetErrors, read_any


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseFile:
    """A case file that was read: the document, its circuit, and the lines that still stand."""

    document: CaseDocument
    circuit: CaseCircuit
    lines: tuple[Line, ...]

    @property
    def rate(self) -> Rate | None:
        """How often the symptom was tried and how often it showed, where both are known."""
        tries, hits = self.document.tries_before, self.document.hits_before
        return None if tries is None or hits is None else (tries, hits)

    @property
    def codes(self) -> CodesTold:
        """What the case tells of codes."""
        return CodesTold(seen=self.document.codes, passed=self.document.monitors_passed)


def read_case_file(path: Path) -> CaseFile:
    """Return the case in a file, with its circuit's text from the file or from one beside it.

    Raises
    ------
    BadRows
        All that is wrong with the case, its circuit or its readings.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise BadRows([RowProblem(0, str(path), f"cannot be read: {error.strerror}.")]) from None
    document = read_case_document(content)
    circuit = _circuit(document, path)
    return CaseFile(
        document=document, circuit=circuit, lines=tuple(document_lines(circuit, document))
    )


def document_lines(circuit: CaseCircuit, document: CaseDocument) -> list[Line]:
    """Return the readings of a document that no other line corrects, by their own numbers."""
    corrected = {reading.corrects for reading in document.readings}
    standing = [reading for reading in document.readings if reading.number not in corrected]
    lines = typed_lines(circuit, standing)
    return [
        replace(line, number=reading.number) for line, reading in zip(lines, standing, strict=True)
    ]


def _circuit(document: CaseDocument, path: Path) -> CaseCircuit:
    reference = document.circuit
    if reference is None or not (reference.text or reference.file):
        problem = "the case carries no circuit."
        mend = 'Export it with its circuit, or name the circuit\'s file: "circuit": {"file": ...}.'
        raise BadRows([RowProblem(0, "circuit", problem, mend)])
    content: str | bytes = reference.text
    if not reference.text:
        beside = path.parent / reference.file
        try:
            content = beside.read_bytes()
        except OSError as error:
            problem = f"{beside} cannot be read: {error.strerror}."
            raise BadRows([RowProblem(0, "circuit file", problem)]) from None
    try:
        return circuit_from_sheet(read_any(content))
    except SheetErrors as error:
        raise BadRows(circuit_problems(error)) from None
