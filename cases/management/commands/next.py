"""`manage.py next`: how likely each fault is by the readings so far, and what to measure next."""

import math
from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Iterable, Iterator
from typing import Any

from cases.documents.next_reading import NextReadings, OutcomeSide, Prices, ProposedReading
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

    def add_arguments(self, parser: ArgumentParser) -> None:
        super().add_arguments(parser)
        parser.add_argument(
            "--prices",
            nargs=2,
            type=_price,
            metavar=("HOUR", "PART"),
            help="what an hour of work and the part, fitted, cost: each reading says what it costs"
            " and what it saves of a wrong part on average",
        )

    def answer(
        self, case: CaseFile, options: dict[str, Any]
    ) -> tuple[int, dict[str, Any], Iterable[str]]:
        verdict = judge_lines(case.circuit, case.lines, codes=case.codes) if case.lines else None
        twins = twins_left(verdict)
        prices = None
        if options["prices"]:
            hour_price, part_price = options["prices"]
            prices = Prices(hour_price=hour_price, part_price=part_price)
        found = what_to_measure(
            case.circuit, case.lines, twins=twins, codes=case.codes, prices=prices
        )
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
    done.extend(f"{one} bridged to {other}" for one, other in each.rig.bridged)
    if each.rig.lamp_watts is not None:
        done.append(f"{each.rig.lamp_watts:g} W lamp across the leads")
    rig = f", {', '.join(done)}" if done else ""
    yield f"{number}. {each.place} in '{each.phase}'{rig}: {each.label}, {each.minutes:g} min"
    limit = format_in(each.limit, each.unit)
    yield f"   under {limit} ({each.below.probability:.0%}): {_suspects(each.below)}"
    yield f"   over {limit} ({each.above.probability:.0%}): {_suspects(each.above)}"
    if each.worth is not None:
        yield f"   costs {each.worth.costs:.2f}, saves {each.worth.saves:.2f} on average"
    for caution in each.cautions:
        yield f"   Caution: {caution}."


def _suspects(side: OutcomeSide) -> str:
    return "; ".join(f"{each.words} {each.probability:.0%}" for each in side.suspects)


def _price(text: str) -> float:
    try:
        price = float(text)
    except ValueError:
        price = math.nan
    if not 0 <= price < math.inf:
        raise ArgumentTypeError(f"'{text}' is no price; give a number such as 60 or 12.50")
    return price
