"""What a meter shows with a rig on the circuit: the engine's display against ngspice's volts.

The instrument is drawn in: 10 MOhm across the leads of a voltmeter, ohms in series for an ammeter,
a lamp, and for an ohmmeter (power removed) what drives 1 mA until it stands at 3 V.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuits.engine import (
    AS_IT_STANDS,
    Fuse,
    Meter,
    Network,
    Ohmmeter,
    Phase,
    Place,
    Resistor,
    Rig,
)
from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import Situation
from circuits.engine.settling.phases import PhaseRun
from tests.judges import ngspice
from tests.judges.agreement import close_volts
from tests.judges.elements import Straight
from tests.judges.plain import PlainCircuit, plain_circuit
from tests.judges.settling import solve_still, straight_pieces
from tests.judges.standing import NO_INPUT_CURRENT, pieces_of

METER_OHMS = 10e6
# An ohmmeter on its lowest range and its leads; the figures are those of the engine.
TEST_AMPS, OPEN_VOLTS, LEAD_OHMS = 1e-3, 3.0, 0.35
# A hundredth of its volts before it is open it no longer drives its current.
SLACK_OHMS = 0.01 * OPEN_VOLTS / TEST_AMPS
TIP = "behind the leads"
LOOSE_OHMS = 1e9
# What ngspice leaks across each junction, through a meter of ten megohms. Where a lead hangs on the
# meter alone it is rounding: 27 V on a plug of 0.6 milliohms are amps that cancel to some 5 pA.
LEAKED_VOLTS = 1e-4
OHMMETER = Ohmmeter.on_range(Meter(), TEST_AMPS)
NOTHING_MOVES = Trials.of_singles(np.array([0]), np.array([0.0]), np.array([1.0]))

Asked = tuple[Network, Phase, Place, Rig]


def rigged_against_ngspice(asked: Sequence[Asked]) -> list[str]:
    """Say where the engine's meter shows something else than ngspice makes of it."""
    readings = list(rigged_readings(asked))
    answers = ngspice.solve_all([reading.case for reading in readings])
    found = []
    for reading, answer in zip(readings, answers, strict=True):
        judged = shown_by(reading, answer)
        close = close_volts(judged, curved=bool(reading.case.circuit.curved))
        if reading.hangs or any(each.name == "touch" for each in reading.case.circuit.straight):
            close = max(close, LEAKED_VOLTS)
        if not abs(reading.shown - judged) <= close:
            found.append(f"{reading.at}: {reading.shown:.9f}, judged {judged:.9f}")
    return found


@dataclass(frozen=True, slots=True)
class RiggedReading:
    """What the engine's meter shows, and the same circuit with meter and rig drawn in."""

    at: str
    network: Network
    phase: Phase
    place: Place
    shown: float
    case: ngspice.Case
    #: Whether a lead is where nothing but the meter leads to ground
    hangs: bool


def rigged_readings(asked: Sequence[Asked]) -> Iterator[RiggedReading]:
    """Yield what the engine shows at each place; readings of one network are settled at once."""
    for network, of_network in itertools.groupby(asked, key=lambda each: each[0]):
        nodes = [node for node in network.nodes if node != network.zero]
        everywhere = [(Place(key=n, red=n, black=network.zero), NO_INPUT_CURRENT) for n in nodes]
        situations = [
            (phase, place, rig, Situation.of(phase.name, place, rig, METER_OHMS, OHMMETER))
            for _, phase, place, rig in of_network
        ]
        seats = {situation: [*everywhere] for *_, situation in situations}
        for _, place, _, situation in situations:
            seats[situation].append((place, METER_OHMS))
        went = PhaseRun(network, (None,)).go(NOTHING_MOVES, seats)
        for phase, place, rig, situation in situations:
            stage, settled = went[situation]
            if settled.chatters[0]:
                continue
            values = settled.low[0]
            plain = _with_instrument(network, phase, place, rig)
            start = {
                node: float(value)
                for node, value, loose in zip(nodes, values, settled.floating[0], strict=False)
                if not loose
            }
            start[network.zero] = 0.0
            pieces = pieces_of(stage, settled, 0)
            bare = rig == AS_IT_STANDS and not (place.reads_ohms or place.reads_amps)
            if bare:
                # The meter itself may make a diode conduct; ngspice is told by the slow solver.
                volts = solve_still(plain, pieces).volts
                pieces = {**pieces, **straight_pieces(plain, volts)}
            tied = plain_circuit(network, phase, rig=rig).tied_nodes(pieces, start)
            if not place.reads_amps and place.black not in plain.tied_nodes(pieces, start):
                # What hangs loose may touch ground at one place: that makes no circuit. Where the
                # meter makes a diode conduct it would make one, but for its ohms.
                touch_ohms = LOOSE_OHMS if bare else 1.0
                plain = plain.with_resistor("touch", place.black, network.zero, touch_ohms)
            yield RiggedReading(
                at=f"{place.key} in '{phase.name}', {rig}",
                network=network,
                phase=phase,
                place=place,
                shown=float(values[seats[situation].index((place, METER_OHMS))]),
                case=ngspice.Case(plain, pieces, start, ammeter=_ammeter(place, rig)),
                hangs=bare and not {place.red, place.black} <= tied,
            )


def _ammeter(place: Place, rig: Rig) -> str:
    """Return the element whose amps are read: a part with an ammeter before it has the same."""
    if place.by_drop:
        return ""
    return "ammeter" if rig.ammeter_in == place.through != "" else place.through


def _with_instrument(network: Network, phase: Phase, place: Place, rig: Rig) -> PlainCircuit:
    if place.reads_amps:
        return plain_circuit(network, phase, rig=rig)
    leads = place.red, place.black
    plain = plain_circuit(network, phase, rig=rig, lamp_leads=leads)
    if not place.reads_ohms:
        return plain.with_resistor("meter", *leads, METER_OHMS)
    plain = plain.with_resistor("leads", place.red, TIP, LEAD_OHMS)
    at_limit = OPEN_VOLTS - TEST_AMPS * SLACK_OHMS
    meter = Straight(
        "ohmmeter",
        TIP,
        place.black,
        (0.0, 1 / SLACK_OHMS, 0.0),
        (-TEST_AMPS, -OPEN_VOLTS / SLACK_OHMS, 0.0),
        (at_limit, OPEN_VOLTS),
    )
    return replace(plain, straight=(*plain.straight, meter))


def shown_by(reading: RiggedReading, answer: ngspice.Answer) -> float:
    """Return the reading that ngspice makes of a place; what hangs loose has no volts."""
    place, volts = reading.place, answer.volts
    if place.reads_ohms:
        return (volts[TIP] - volts[place.black]) / TEST_AMPS
    if not place.reads_amps:
        return volts[place.red] - volts[place.black]
    if place.by_drop:
        shunt = reading.network.part(place.through)
        assert isinstance(shunt, Fuse | Resistor)
        amps = (volts.get(shunt.first, 0.0) - volts.get(shunt.second, 0.0)) / shunt.ohms
    else:
        assert answer.amps is not None
        amps = answer.amps
    return -amps if place.reversed_clamp else amps
