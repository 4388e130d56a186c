"""The checks of a test sheet or bench sheet, each with the place and phase it is logged under."""

from dataclasses import dataclass

from cases.circuit import CaseCircuit
from cases.spots import BENCH, key_between, key_on_bench, key_round
from circuits.engine import Place
from circuits.part_sheets.in_vehicle import TestSheet
from circuits.part_sheets.on_the_bench import BenchSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One check; `place` and `phase` are what its reading is logged under."""

    what: str
    place: str
    phase: str
    red: str
    black: str
    meter: str
    when: str
    expected: str
    otherwise: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def rows_of_checks(circuit: CaseCircuit, sheet: TestSheet) -> tuple[SheetRow, ...]:
    """Return the checks in the vehicle; a place that the circuit lists keeps its key."""
    return tuple(
        SheetRow(
            what=f"{check.group}: {check.what}",
            place=_key_at(circuit, check.place),
            phase=check.phase,
            red=check.red,
            black=check.black,
            meter=check.meter,
            when=check.when,
            expected=check.expected,
            otherwise=tuple(map(str, check.otherwise)),
            cautions=check.cautions,
        )
        for check in sheet.checks
    )


def rows_of_bench(sheet: BenchSheet) -> tuple[SheetRow, ...]:
    """Return the steps of a part on the bench."""
    return tuple(
        SheetRow(
            what=step.what,
            place=key_on_bench(step),
            phase=BENCH,
            red=step.red,
            black=step.black,
            meter=step.meter,
            when=step.when,
            expected=step.expected,
            otherwise=tuple(map(str, step.otherwise)),
            cautions=step.cautions,
        )
        for step in sheet.checks
    )


def _key_at(circuit: CaseCircuit, place: Place) -> str:
    for listed in circuit.places.values():
        same_leads = (listed.red, listed.black, listed.through) == (
            place.red,
            place.black,
            place.through,
        )
        if same_leads and not (listed.reads_ohms or listed.reversed_clamp):
            return listed.key
    return key_round(place.through) if place.through else key_between(place.red, place.black)
