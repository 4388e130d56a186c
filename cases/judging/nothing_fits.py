"""Where no single fault fits: what to look at, in order, and what of the record speaks for each.

A reading slip, a phase or place slip, the drawing, a part outside it, two faults, a fault that
comes and goes.
"""

from collections.abc import Iterator, Sequence

from cases.circuit import CaseCircuit
from cases.documents.codes import CodeEvidence
from cases.documents.looks import Look, LookAt, OtherRule
from cases.documents.verdicts import Judgement
from cases.judging.code_words import listed
from cases.judging.lines import Line
from cases.judging.meant import meant_words, named
from cases.models.choices import HEALTHY, CodeStatus, SymptomPresent
from circuits.codes.failure_modes import failure_of
from circuits.engine import (
    EngineError,
    Reading,
    closure_of,
    judge,
    reading_bound,
)
from circuits.sheet import PartEntry, exchanged, open_rules, to_network, with_part
from circuits.units import format_in

#: Times that the symptom was tried, and how often it showed.
Rate = tuple[int, int]


def other_rules(circuit: CaseCircuit, readings: Sequence[Reading]) -> tuple[OtherRule, ...]:
    """Return the assumed rules that let something fit once they are taken the other way."""
    found = []
    for part in open_rules(circuit.sheet):
        try:
            other = to_network(with_part(circuit.sheet, exchanged(part)))
            verdict = judge(other, readings, supply_places=circuit.supplies)
        except EngineError:
            continue  # the other rule makes a circuit that cannot be solved, so it explains nothing
        fits = [HEALTHY] if verdict.healthy.passes else [each.id for each in verdict.fitting]
        if fits:
            words = f"{part.name}, {part.kind}, {part.first} - {part.second}"
            found.append(OtherRule(part=part.name, words=words, fits=tuple(fits)))
    return tuple(found)


def what_to_look_at(
    circuit: CaseCircuit,
    lines: Sequence[Line],
    readings: Sequence[Reading],
    judgement: Judgement,
    codes: Sequence[CodeEvidence] = (),
    rate: Rate | None = None,
) -> tuple[LookAt, ...]:
    """Return what to look at where nothing fits, with what speaks for it; empty where it does.

    `lines` and `readings` are those that were judged, in their order.
    """
    if not judgement.nothing_fits:
        return ()
    record = _Record(circuit, lines, readings, judgement, codes, rate)
    return tuple(
        LookAt(look=look, speaks=tuple(dict.fromkeys(speaks)))
        for look, speaks in (
            (Look.READING, record.of_readings()),
            (Look.PLACE, record.of_places()),
            (Look.DRAWING, record.of_drawing()),
            (Look.OUTSIDE, record.of_outside()),
            (Look.PAIR, record.of_pairs()),
            (Look.COMES_AND_GOES, record.of_coming_and_going()),
        )
    )


class _Record:
    """What the record of one case has for each of the things to look at."""

    def __init__(
        self,
        circuit: CaseCircuit,
        lines: Sequence[Line],
        readings: Sequence[Reading],
        judgement: Judgement,
        codes: Sequence[CodeEvidence],
        rate: Rate | None,
    ) -> None:
        self.circuit = circuit
        self.lines = lines
        self.readings = readings
        self.judgement = judgement
        self.codes = codes
        self.rate = rate

    # ------------------------------------------------------------------ reading, place, phase

    def of_readings(self) -> Iterator[str]:
        for slip in self.judgement.slips:
            would = format_in(slip.predicted, self._unit(slip.place))
            yield (
                f"{slip.place} in '{slip.phase}' alone stands in the way: about {would} there "
                "would agree with all the others"
            )
        yield from self._meant(moved=False)
        yield from self._not_closing()

    def of_places(self) -> Iterator[str]:
        yield from self._meant(moved=True)

    def _meant(self, *, moved: bool) -> Iterator[str]:
        taken = {reading.number: reading for reading in self.judgement.readings}
        for slip in self.judgement.mended:
            if slip.moved is not moved or slip.number not in taken:
                continue
            yield meant_words(self.circuit, slip, taken[slip.number])

    def _not_closing(self) -> Iterator[str]:
        told: set[frozenset[int]] = set()
        for number, line in enumerate(self.lines):
            closure = closure_of(self.circuit.network, self.readings, number)
            if closure is None or closure.closes(self.readings[number]):
                continue
            together = frozenset({number, *(other for other, _ in closure.signed)})
            if together in told:
                continue
            told.add(together)
            named = listed([self.readings[each].place.key for each in sorted(together)])
            yield f"{named} in '{line.phase}' do not add up, whatever is broken"

    # --------------------------------------------------------------------- drawing, outside

    def of_drawing(self) -> Iterator[str]:
        for rule in self.judgement.other_rules:
            yield f"{rule.words} is assumed; taken the other way, {named(self.circuit, rule.fits)}"
        for code in self.codes:
            if code.is_set and code.healthy in ("sets it", "may set it"):
                yield f"by this drawing even the circuit in order {code.healthy[:-3]} {code.code}"
        parts = self.circuit.sheet.parts
        assumed = [part for part in parts if _is_assumed(part)]
        if assumed:
            yield f"the values of {len(assumed)} of its {len(parts)} parts are assumed"
        if self.circuit.sheet.vehicle.drawn_by_us:
            yield "it is not taken from the maker's drawing"

    def of_outside(self) -> Iterator[str]:
        for code in self.codes:
            nobody = not code.excluded_that_set
            if code.is_unexplained and nobody:
                yield f"{code.code} is set, and no single fault of the drawing sets it"
            elif code.is_set and code.silent and not code.words:
                yield f"{code.code} is set and is about something that this sheet does not hold"
        vehicle = self.circuit.sheet.vehicle
        if vehicle.outside:
            yield f"the drawing leaves out: {'; '.join(vehicle.outside)}"
        for each in vehicle.goes_on:
            yield f"the sheet ends at {each.node}, where that of {each.circuit} begins"

    # ------------------------------------------------------------------ two faults, comes, goes

    def of_pairs(self) -> Iterator[str]:
        pairs = self.judgement.pairs
        if pairs:
            best = pairs[0]
            more = f", and {len(pairs) - 1} pairs more" if len(pairs) > 1 else ""
            yield (
                f"{best.first.words}, together with {best.second.words}, explain all the "
                f"readings{more}"
            )

    def of_coming_and_going(self) -> Iterator[str]:
        absent = [line for line in self.lines if line.symptom_present is SymptomPresent.NO]
        if absent:
            count = f"{len(absent)} of {len(self.lines)}"
            yield f"{count} readings that were judged were taken without the symptom"
        if self.rate is not None and 0 < self.rate[1] < self.rate[0]:
            yield f"the symptom showed {self.rate[1]} times in {self.rate[0]} tries"
        for code in self.codes:
            failure = failure_of(code.code, code.failure_type)
            if failure is not None and failure.comes_and_goes:
                yield f"{code.code} has the failure type '{failure.words}'"
            elif code.is_set and code.status in (CodeStatus.STORED, CodeStatus.PENDING):
                yield f"{code.code} is {code.status}, not present"
        yield from self._logged_otherwise()

    def _logged_otherwise(self) -> Iterator[str]:
        """Yield places that were read twice in the same way and showed two things."""
        first: dict[object, int] = {}
        for number, line in enumerate(self.lines):
            way = (line.place, line.phase, line.rig.key, line.statistic)
            earlier = first.setdefault(way, number)
            one, other = self.readings[earlier], self.readings[number]
            if abs(one.value - other.value) > reading_bound(one) + reading_bound(other):
                texts = f"{self.lines[earlier].text} and {line.text}"
                yield f"{line.place} in '{line.phase}' was read as {texts}"

    # ------------------------------------------------------------------------------- words

    def _unit(self, place: str) -> str:
        entry = self.circuit.entry_at(place)
        return entry.unit if entry is not None else "V"


def _is_assumed(part: PartEntry) -> bool:
    """Return whether nobody says where a part's values come from."""
    sources = [value.source for setting in part.settings for value in setting.values]
    return not part.source and not any(sources)
