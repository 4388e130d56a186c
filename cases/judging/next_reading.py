"""What to measure next in a case: likely faults, and the readings that part them soonest."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import chain
from types import MappingProxyType
from typing import NamedTuple

from cases.circuit import CaseCircuit
from cases.documents.next_reading import (
    LikelySuspect,
    NextReadings,
    OutcomeSide,
    Prices,
    ProposedReading,
    Worth,
)
from cases.documents.readings import COMMON, Instrument, Rig
from cases.judging.codes import NO_CODES, CodesTold, told_codes
from cases.judging.frequencies import VerifiedCases, share_interval
from cases.judging.lines import (
    NOT_NARROWED,
    Line,
    Narrowed,
    engine_meter,
    engine_readings,
    engine_rig,
    set_aside,
)
from cases.models.choices import HEALTHY, Stage
from circuits.cautions import BRIDGES, notes_at_step
from circuits.engine import (
    Candidate,
    Hypotheses,
    KeyState,
    NextReading,
    Place,
    Side,
    next_readings,
    weigh_suspects,
)
from circuits.part_sheets.allowed import pin_words
from circuits.part_sheets.checks import PRECEDENCE
from circuits.sheet import MoveKind, PlaceEntry
from circuits.units import parse_quantity

NO_CASES = VerifiedCases()
MOST_LIKELY = 8
MOST_PROPOSED = 6
LEAST_LIKELY = 0.005
# Minutes for one reading, leads on and off, and what comes on top. Common practice, no source.
USUAL_MINUTES = 2.0
AT_A_PLUG_MINUTES = 1.5
UNPLUG_MINUTES = 2.0
LAMP_MINUTES = 1.0
BRIDGE_MINUTES = 3.0
#: Cranking needs a second person, running needs leads laid clear of what turns.
PHASE_MINUTES: Mapping[KeyState, float] = MappingProxyType({KeyState.CRANK: 2.0, KeyState.RUN: 0.5})


def what_to_measure(
    circuit: CaseCircuit,
    lines: Sequence[Line],
    *,
    twins: Sequence[Sequence[str]] = (),
    past: VerifiedCases = NO_CASES,
    prices: Prices | None = None,
    instruments: Sequence[Instrument] = (),
    narrowed: Narrowed = NOT_NARROWED,
    codes: CodesTold = NO_CODES,
) -> NextReadings:
    """Return what is likely by codes and readings before the repair, and what to measure next.

    `twins` are suspects that no listed place parts, as a verdict has them. With `prices` each
    reading is held against the price of a wrong part. Of the `instruments` of whoever asks, the one
    used last first, volts are read with the first meter and amps with the first clamp. Only what
    the circuit's record allows is proposed, and nothing that was read already.

    Raises
    ------
    NotForProposals
        The circuit belongs to licensed people: no reading is proposed there.
    """
    circuit.require_proposals()
    heard = [
        line for line in lines if line.stage == Stage.BEFORE and set_aside(circuit, line) is None
    ]
    hypotheses = weigh_suspects(
        circuit.network,
        [reading for reading, _ in engine_readings(circuit, heard, narrowed)],
        supply_places=circuit.supplies,
        cases=past.weights,
        codes=told_codes(circuit, codes),
    )
    words = _Words(circuit, twins, past)
    taken = {(line.place, line.phase, line.rig.key) for line in heard}
    candidates = {each.candidate: each for each in _candidates(circuit, taken, instruments)}
    told = next_readings(hypotheses, list(candidates), twins=twins)
    return NextReadings(
        likely=words.likely(hypotheses),
        outside=_short(hypotheses.outside),
        readings=tuple(
            _proposed(circuit, each, candidates[each.candidate], words, prices)
            for each in _best_at_each_place(told)
        ),
        precedence=PRECEDENCE,
    )


def _best_at_each_place(told: Sequence[NextReading]) -> list[NextReading]:
    """Return the best phase of each place and rig: other phases mostly tell the same again."""
    best: dict[tuple[str, object], NextReading] = {}
    for each in told:
        best.setdefault((each.candidate.place.key, each.candidate.rig), each)
    return list(best.values())[:MOST_PROPOSED]


class _Allowed(NamedTuple):
    """A reading that may be proposed, as the engine takes it and as it is told."""

    candidate: Candidate
    rig: Rig
    instrument: str


def _candidates(
    circuit: CaseCircuit,
    taken: set[tuple[str, str, tuple[str, ...]]],
    instruments: Sequence[Instrument],
) -> Iterator[_Allowed]:
    """Yield every reading that the circuit's record allows and nobody has taken yet."""
    for place in circuit.places.values():
        entry = circuit.entries[place.key]
        if place.key not in circuit.offered_places:
            continue
        instrument = _instrument_for(place, instruments)
        for rig in _rigs(circuit, place, entry):
            for phase in circuit.network.phases:
                if (place.key, phase.name, rig.key) in taken:
                    continue
                candidate = Candidate(
                    place=place,
                    phase=phase.name,
                    minutes=minutes_for(entry, rig, phase.key_state),
                    rig=engine_rig(circuit, rig),
                    meter=engine_meter(instrument),
                )
                yield _Allowed(candidate, rig, instrument.name)


def _instrument_for(place: Place, instruments: Sequence[Instrument]) -> Instrument:
    """Return the instrument used last of those for amps or for volts; a clamp has a floor."""
    fit = (each for each in instruments if bool(place.through) == (each.floor_amps is not None))
    return next(fit, COMMON)


def _rigs(circuit: CaseCircuit, place: Place, entry: PlaceEntry) -> Iterator[Rig]:
    yield Rig()
    if not place.reads_ohms:
        for bridge in circuit.allowed_bridges:
            if set(bridge) != {place.red, place.black}:
                yield Rig(bridged=(bridge,))
    for move in entry.moves:
        if move.kind is MoveKind.UNPLUG:
            yield Rig(unplugged=move.names)
        elif move.kind is MoveKind.LAMP:
            unplugged = next((m.names for m in entry.moves if m.kind is MoveKind.UNPLUG), ())
            yield Rig(unplugged=unplugged, lamp_watts=parse_quantity(move.watts, "W").number)


def minutes_for(entry: PlaceEntry, rig: Rig, key_state: KeyState) -> float:
    """Return how long a reading takes: leads on and off, a plug, what is done first, the phase."""
    return (
        USUAL_MINUTES
        + (AT_A_PLUG_MINUTES if entry.side else 0.0)
        + (UNPLUG_MINUTES if rig.unplugged else 0.0)
        + BRIDGE_MINUTES * len(rig.bridged)
        + (LAMP_MINUTES if rig.lamp_watts is not None else 0.0)
        + PHASE_MINUTES.get(key_state, 0.0)
    )


def _proposed(
    circuit: CaseCircuit,
    told: NextReading,
    allowed: _Allowed,
    words: "_Words",
    prices: Prices | None,
) -> ProposedReading:
    candidate, rig = told.candidate, allowed.rig
    entry = circuit.entries[candidate.place.key]
    phase = next(each for each in circuit.sheet.phases if each.key == candidate.phase)
    ends = (circuit.network.supply, circuit.network.zero)
    cautions = notes_at_step(
        circuit.sheet,
        phase.key_state,
        touched=(
            *(entry.red, entry.black, entry.through),
            *rig.unplugged,
            *chain.from_iterable(rig.bridged),
        ),
        at_source={entry.red, entry.black} == set(ends),
        at_work=True,
        by_clamp=bool(entry.through),
    )
    return ProposedReading(
        place=entry.key,
        label=entry.label,
        red=f"round {entry.through}" if entry.through else pin_words(circuit.sheet, entry.red),
        black="" if entry.through else pin_words(circuit.sheet, entry.black),
        phase=phase.key,
        phase_words=phase.words,
        rig=rig,
        access=entry.side,
        instrument=allowed.instrument,
        minutes=candidate.minutes,
        bits=_short(told.bits),
        limit=_short(told.limit),
        unit=entry.unit,
        below=words.side(told.below),
        above=words.side(told.above),
        wrong_now=_short(told.wrong_now),
        wrong_after=_short(told.wrong_after),
        worth=_worth(told, prices) if prices is not None else None,
        cautions=(*cautions, *([BRIDGES] if rig.bridged else [])),
    )


def _worth(told: NextReading, prices: Prices) -> Worth:
    return Worth(
        costs=_short(told.candidate.minutes / 60 * prices.hour_price),
        saves=_short((told.wrong_now - told.wrong_after) * prices.part_price),
    )


class _Words:
    """Says suspects in trade words, those that no reading parts together."""

    def __init__(
        self, circuit: CaseCircuit, twins: Sequence[Sequence[str]], past: VerifiedCases
    ) -> None:
        self.circuit, self.past = circuit, past
        self.group_of = {name: tuple(group) for group in twins for name in group}

    def likely(self, hypotheses: Hypotheses) -> tuple[LikelySuspect, ...]:
        total: dict[tuple[str, ...], float] = {}
        for name, probability in hypotheses.by_suspect().items():
            group = self.group_of.get(name, (name,))
            total[group] = total.get(group, 0.0) + probability
        ranked = sorted(total.items(), key=lambda each: -each[1])[:MOST_LIKELY]
        return tuple(
            self._suspect(group, probability)
            for group, probability in ranked
            if probability >= LEAST_LIKELY
        )

    def side(self, side: Side) -> OutcomeSide:
        return OutcomeSide(
            probability=_short(side.probability),
            suspects=tuple(
                self._suspect(self.group_of.get(name, (name,)), probability)
                for name, probability in side.suspects
            ),
        )

    def _suspect(self, group: Sequence[str], probability: float) -> LikelySuspect:
        names = [name or HEALTHY for name in group]
        described = [
            "the circuit in order"
            if name == HEALTHY
            else self.circuit.suspects[name].describe(None)
            for name in names
        ]
        count, in_vehicle = self.past.were_one_of(names)
        total = self.past.total
        low, high = share_interval(count, total) if total else (None, None)
        return LikelySuspect(
            suspects=tuple(names),
            words=", or ".join(described),
            probability=_short(probability),
            cases=count,
            of_cases=total,
            share_low=None if low is None else _short(low),
            share_high=None if high is None else _short(high),
            vehicle_cases=in_vehicle,
        )


def _short(number: float) -> float:
    return float(f"{number:.4g}")
