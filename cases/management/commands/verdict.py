"""`manage.py verdict`: whether the readings of a case bear out its claim."""

from argparse import ArgumentParser
from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap
from typing import Any

from cases.circuit import CaseCircuit
from cases.documents.verdicts import FindingDocument, Judgement, TwinGroup, VerdictDocument
from cases.errors import NothingToJudge
from cases.judging.blind_spots import TAKE_ANOTHER, chatter_words, unseen_words
from cases.judging.meant import meant_words, named
from cases.judging.pairs import explained_words, grouped
from cases.judging.verdict import DOES_NOT_FIT, FITS, judge_lines
from cases.management.case_command import CaseCommand, columns
from cases.management.code_lines import code_lines
from cases.management.look_lines import look_lines
from cases.models import HEALTHY
from cases.services.files import CaseFile
from circuits.management.answering import DONE
from circuits.units import format_in, format_quantity

NOT_BORNE_OUT = 1
LINE_LENGTH = 96


class Command(CaseCommand):
    help = (
        "Judge a case file against its circuit, without a database. The file carries the text of "
        "its circuit or names its file. Exit status: 0 the claim fits, 1 it does not fit, the "
        "readings cannot say, or nothing is claimed, 2 bad input, 70 a mistake of ours."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--claim", help="judge this claim instead of the one in the file")
        parser.add_argument(
            "--pairs",
            action="store_true",
            help="look for two faults at once where no single one fits; takes seconds",
        )

    def answer(
        self, case: CaseFile, options: dict[str, Any]
    ) -> tuple[int, dict[str, Any], Iterable[str]]:
        claim = options["claim"]
        if claim is None:
            claim = case.document.claim.suspect if case.document.claim is not None else ""
        verdict = judge_lines(
            case.circuit,
            case.lines,
            claim=claim,
            with_pairs=options["pairs"],
            codes=case.codes,
            rate=case.rate,
        )
        codes_speak = any(not code.silent for code in verdict.codes)
        if verdict.before is None and verdict.after is None and not codes_speak:
            reasons = [f"{entry.place}: {entry.because}" for entry in verdict.set_aside]
            raise NothingToJudge(
                "There is no reading to judge: "
                + (verdict.failure or "; ".join(reasons) or "the case has none.")
            )
        status = DONE if verdict.outcome == FITS else NOT_BORNE_OUT
        return status, verdict.as_data(), _lines(case, verdict)


def _lines(case: CaseFile, verdict: VerdictDocument) -> Iterator[str]:
    vehicle = case.document.vehicle
    made = " ".join(word for word in (vehicle.make, vehicle.model) if word)
    yield f"{case.circuit.sheet.vehicle.title} ({made})"
    yield from _claim_lines(verdict)
    if verdict.before is not None:
        yield from _reading_lines(case, verdict.before, "Readings before the repair")
        yield from _rival_lines(case.circuit, verdict, verdict.before)
        if verdict.before.nothing_fits:
            yield from _slip_lines(case, verdict.before)
            yield from _pair_lines(case, verdict.before)
    yield from code_lines(verdict)
    if verdict.after is not None:
        yield from _reading_lines(case, verdict.after, "Readings after the repair")
        healthy = verdict.after.healthy
        yield f"The circuit in order {healthy.outcome} them: {healthy.because}."
    if verdict.set_aside:
        yield ""
        yield "Set aside"
        yield from columns(
            [[entry.place, entry.phase, entry.text, entry.because] for entry in verdict.set_aside]
        )
    notes: list[str] = []
    if verdict.before is not None:
        notes = [*verdict.before.notes, *chatter_words(case.circuit, verdict.before)]
    if notes:
        yield ""
        yield from (f"Note: {note}." for note in notes)
    yield ""
    yield "What the readings allow, by typical values of this drawing; the maker's procedure"
    yield "and figures come first."


def _slip_lines(case: CaseFile, judgement: Judgement) -> Iterator[str]:
    taken_by = {reading.number: reading.by for reading in case.document.readings}
    for slip in judgement.slips:
        would_be = format_in(slip.predicted, _unit(case.circuit, slip.place))
        who = taken_by.get(slip.number) or "whoever took it"
        yield ""
        yield f"One reading may have slipped: {slip.place} in '{slip.phase}', typed {slip.text}."
        yield f"  {would_be} there would agree with the others; {who} can confirm it."
        yield f"  Then {named(case.circuit, slip.fits)}."


def _pair_lines(case: CaseFile, judgement: Judgement) -> Iterator[str]:
    yield ""
    if judgement.pairs is None:
        yield "Two faults at once were not looked for; --pairs does."
        return
    if not judgement.pairs:
        yield "No two faults of this circuit give these readings either."
    for group in grouped(judgement.pairs):
        ones, others = (
            f"{'one of ' if len(side) > 1 else ''}{', '.join(fault.suspect for fault in side)}"
            for side in (group.ones, group.others)
        )
        best = group.best
        yield f"Two faults at once: {ones} together with {others}."
        yield f"  Best: {best.first.severity_words}, and {best.second.severity_words}."
        rows = []
        for number, reading in enumerate(judgement.readings):
            both = format_in(best.predicted[number], _unit(case.circuit, reading.place))
            words = explained_words(best, number)
            rows.append([reading.place, reading.phase, reading.text, both, words])
        yield from columns([["place", "phase", "logged", "both", "explained by"], *rows])


def _claim_lines(verdict: VerdictDocument) -> Iterator[str]:
    judgement = verdict.before
    if not verdict.claim:
        yield "Nothing is claimed."
    elif judgement is not None:
        finding = judgement.healthy if verdict.claim == HEALTHY else judgement.claim
        if finding is not None:
            yield f"Claim {verdict.claim}: {finding.outcome}."
            yield f"  {finding.because[:1].upper()}{finding.because[1:]}."
            if finding.outcome != DOES_NOT_FIT and finding.severity_words:
                yield f"  {_severity_words(finding)}"


def _severity_words(finding: FindingDocument) -> str:
    words = finding.severity_words
    low, high = finding.severity_low, finding.severity_high
    if low is not None and high is not None:
        ends = [format_quantity(end, finding.severity_unit) for end in (low, high)]
        words += f" ({ends[0]} to {ends[1]} would do)"
    if finding.watts is not None:
        words += f", up to {format_quantity(finding.watts, 'W')} of heat in it"
    return f"{words}{_blown_words(finding)}."


def _blown_words(finding: FindingDocument) -> str:
    blown = ", ".join(finding.overloads)
    return f"; no fuse would have stood it: {blown}" if blown else ""


def _reading_lines(case: CaseFile, judgement: Judgement, title: str) -> Iterator[str]:
    claim = judgement.claim
    yield ""
    yield title
    rows = [["place", "phase", "logged", "in order", *(["as claimed"] if claim else [])]]
    for number, reading in enumerate(judgement.readings):
        unit = _unit(case.circuit, reading.place)
        row = [reading.place, reading.phase, reading.text]
        row.append(format_in(judgement.healthy.predicted[number], unit))
        if claim is not None:
            row.append(format_in(claim.predicted[number], unit))
        rows.append(row)
    yield from columns(rows)


def _unit(circuit: CaseCircuit, place: str) -> str:
    entry = circuit.entry_at(place)
    return entry.unit if entry is not None else "V"


def _rival_lines(
    circuit: CaseCircuit, verdict: VerdictDocument, judgement: Judgement
) -> Iterator[str]:
    open_findings = [entry for entry in judgement.findings if entry.outcome != DOES_NOT_FIT]
    rivals = [entry for entry in open_findings if entry.suspect != verdict.claim]
    yield ""
    if judgement.nothing_fits:
        yield from look_lines(verdict)
        return
    if judgement.healthy.outcome != DOES_NOT_FIT:
        yield from _unseen_lines(circuit, judgement, rivals)
    else:
        yield from _meant_lines(circuit, judgement)
        yield from _fitting_lines(verdict, judgement, rivals)
    for parting in judgement.partings:
        if verdict.claim in (parting.first, parting.second):
            pair = f"{parting.first} from {parting.second}"
            yield f"{parting.place} in '{parting.phase}' parts {pair}."


def _meant_lines(circuit: CaseCircuit, judgement: Judgement) -> Iterator[str]:
    taken = {reading.number: reading for reading in judgement.readings}
    for slip in judgement.mended:
        yield f"Ask whoever was there: {meant_words(circuit, slip, taken[slip.number])}."
    if judgement.mended:
        yield ""


def _unseen_lines(
    circuit: CaseCircuit, judgement: Judgement, rivals: Sequence[FindingDocument]
) -> Iterator[str]:
    """Yield what readings leave open that the circuit in order gives as well."""
    yield "The circuit in order gives these readings too."
    if judgement.readings:
        yield f"{TAKE_ANOTHER}."
    yield from (f"  {words[:1].upper()}{words[1:]}." for words in unseen_words(circuit, judgement))
    if rivals:
        yield f"{len(rivals)} other faults these readings cannot tell from a circuit in order:"
        names = ", ".join(entry.suspect for entry in rivals)
        yield from wrap(names, LINE_LENGTH, initial_indent="  ", subsequent_indent="  ")


def _fitting_lines(
    verdict: VerdictDocument, judgement: Judgement, rivals: Sequence[FindingDocument]
) -> Iterator[str]:
    if not rivals:
        yield "No other fault of this circuit gives these readings."
        return
    yield "These give the readings as well" if verdict.claim else "These give the readings"
    yield from columns(
        [[entry.suspect, f"{entry.severity_words}{_blown_words(entry)}"] for entry in rivals]
    )
    for group in judgement.twins:
        if len(group.suspects) > 1:
            yield f"No listed place parts {', '.join(group.suspects)}{_leads_words(group)}."


def _leads_words(group: TwinGroup) -> str:
    ways = []
    if group.between:
        ways.append(f"a lead at {', '.join(group.between)}")
    if group.clamps:
        ways.append(f"the amps through {', '.join(group.clamps)}")
    return f"; {' and '.join(ways)} would" if ways else ""
