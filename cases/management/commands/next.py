"""`manage.py next`: how likely each fault is by the readings so far, and what to measure next."""

from collections.abc import Iterable, Iterator
from typing import Any

from cases.documents.next_reading import NextReadings, OutcomeSide, ProposedReading
from cases.judging.codes import twins_left
from cases.judging.next_reading import what_to_measure
from cases.judging.verdict import judge_lines
from cases.management.case_command import CaseCommand, columns
from cases.services.files import CaseFile
from circuits.management.answering import DONE
from circuits.units import format_in


class Command(CaseCommand):
    help = (
        "Say how likely each fault of a case file is by its readings so far, and which readings "
        "would tell most for their minutes, without a database. Exit status: 0 done, 2 bad input "
        "or a circuit for which nothing is proposed, 70 a mistake of ours."
    )

    def answer(
        self, case: CaseFile, options: dict[str, Any]
    ) -> tuple[int, dict[str, Any], Iterable[str]]:
        verdict = judge_lines(case.circuit, case.lines, codes=case.codes) if case.lines else None
        twins = twins_left(verdict)
        found = what_to_measure(case.circuit, case.lines, twins=twins, codes=case.codes)
        return DONE, found.as_data(), _lines(case, found)


def _lines(case: CaseFile, found: NextReadings) -> Iterator[str]:
    yield case.circuit.sheet.vehicle.title
    yield ""
    yield "How likely by now"
    rows = [[f"{each.probability:.0%}", each.words] for each in found.likely]
    yield from columns([*rows, [f"{found.outside:.0%}", "something the drawing does not hold"]])
    yield ""
    if not found.readings:
        yield "No reading that the circuit's record allows would tell more."
    for number, each in enumerate(found.readings, start=1):
        yield from _proposed(number, each)
    yield ""
    yield found.precedence


def _proposed(number: int, each: ProposedReading) -> Iterator[str]:
    done = [f"{name} unplugged" for name in each.rig.unplugged]
    if each.rig.lamp_watts is not None:
        done.append(f"{each.rig.lamp_watts:g} W lamp across the leads")
    rig = f", {', '.join(done)}" if done else ""
    yield f"{number}. {each.place} in '{each.phase}'{rig}: {each.label}, {each.minutes:g} min"
    limit = format_in(each.limit, each.unit)
    yield f"   under {limit} ({each.below.probability:.0%}): {_suspects(each.below)}"
    yield f"   over {limit} ({each.above.probability:.0%}): {_suspects(each.above)}"
    for caution in each.cautions:
        yield f"   Caution: {caution}."


def _suspects(side: OutcomeSide) -> str:
    return "; ".join(f"{each.words} {each.probability:.0%}" for each in side.suspects)
