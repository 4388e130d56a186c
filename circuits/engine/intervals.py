"""At which severities a fault could have shown the readings, exactly: intervals in closed form.

On a stretch of a suspect's line no state changes (see `chart`), and a reading is a Moebius
function of the share, (a + b u) / (c + d u). That it lies within a band is two straight
inequalities in u, so the severities that all readings allow are an interval with ends that are
simple quotients: no grid, no search, and every suspect of a circuit in one go. This is the plain
question of bands, each reading by itself; how tolerances and several readings weigh together is
asked by `judge`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.chart import Chart, Stretches
from circuits.engine.errors import EngineError
from circuits.engine.faults import Suspect
from circuits.engine.instruments import compared_value, reading_bound
from circuits.engine.laws import FloatArray
from circuits.engine.lines import place_lines
from circuits.engine.listing import suspects
from circuits.engine.moves import BoolArray
from circuits.engine.network import Network
from circuits.engine.phases import PhaseRun, Seats
from circuits.engine.readings import DEFAULT_INPUT_OHMS, Place, Reading
from circuits.engine.wiring import IntArray, Situation, unbent_input_ohms

# What a wire that hangs loose shows is what the meter picks up. Common practice, no source.
PICKED_UP_VOLTS = 0.05


class NoClosedForm(EngineError):
    """A severity has no closed form here: a load's law is curved, or a fault moves several parts.

    What says which, in trade words.
    """


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Severities of one suspect, as shares from 0 (healthy) to 1 (the end), both ends included.

    Where the circuit `chatters` no reading is steady and none excludes anything.
    """

    suspect: Suspect
    low_share: float
    high_share: float
    chatters: bool = False

    @property
    def severities(self) -> tuple[float, float]:
        """Return the least and the greatest severity, in the suspect's unit."""
        ends = self.suspect.severity_at(self.low_share), self.suspect.severity_at(self.high_share)
        return min(ends), max(ends)

    def holds(self, share: float) -> bool:
        return self.low_share <= share <= self.high_share


@dataclass(frozen=True, slots=True)
class _Lines:
    """What the places of a situation show on each stretch: above / below, (R, 2, S) each.

    Below is above nought all along the stretch. Places come first, so that the line of a reading
    lies in one piece of memory.
    """

    above: FloatArray
    below: FloatArray
    picked_up_volts: FloatArray  # (R, S), by how much a loose place may be off

    @classmethod
    def of(
        cls, stretches: Stretches, above: FloatArray, below: FloatArray, floating: BoolArray
    ) -> "_Lines":
        middle = ((stretches.low + stretches.high) / 2)[:, None]
        sign = np.sign(below[0] + below[1] * middle)
        return cls(
            np.ascontiguousarray((sign * above).transpose(2, 0, 1)),
            np.ascontiguousarray((sign * below).transpose(2, 0, 1)),
            np.ascontiguousarray(np.where(floating, PICKED_UP_VOLTS, 0.0).T),
        )


class PreparedCircuit:
    """A circuit whose lines of severity are worked out once, for any number of cases.

    The listed places are ready for readings with a usual meter; others are made ready when they
    are first met. Without a list of suspects they are all that have a closed form: those that
    move several parts at once are left to `judge`.

    Raises
    ------
    NoClosedForm
        A load has a curved law, or one of the listed suspects moves several parts at once.
    """

    def __init__(
        self,
        network: Network,
        places: Sequence[Place] = (),
        listed: Sequence[Suspect] | None = None,
    ) -> None:
        self.network = network
        self.suspects = tuple(suspects(network) if listed is None else listed)
        self._chosen = listed is not None
        self._run = PhaseRun(network, self.suspects)
        # Ohms are read with the power removed, each in a situation of its own.
        self._listed: Seats = tuple(
            (place, DEFAULT_INPUT_OHMS) for place in places if not place.reads_ohms
        )
        self._chart: Chart | None = None
        self._charted: set[Situation] = set()
        self._lines: dict[tuple[Situation, Seats], _Lines] = {}

    def intervals(
        self, readings: Sequence[Reading], half_widths: Sequence[float] | None = None
    ) -> dict[str, tuple[Interval, ...]]:
        """Return, by the id of each suspect that the readings allow, at which severities.

        `half_widths` says for each reading how far it may be off; without, what its meter may be.

        Raises
        ------
        BadPlace, BadPhase
            A reading names something that is not in the circuit.
        """
        if half_widths is None:
            half_widths = [reading_bound(reading) for reading in readings]
        seats: dict[Situation, list[tuple[Place, float]]] = {}
        wanted = [self._seat(reading, seats) for reading in readings]
        chart = self._chart_with(seats)
        low, high = chart.stretches.low.copy(), chart.stretches.high.copy()
        lines_in = {
            situation: self._lines_in(chart, situation, tuple(there))
            for situation, there in seats.items()
        }
        for reading, half_width, (situation, seat) in zip(
            readings, half_widths, wanted, strict=True
        ):
            _narrow(low, high, lines_in[situation], seat, compared_value(reading), half_width)
        chatters = self._chattering(chart, seats)
        low = np.where(chatters, chart.stretches.low, low)
        high = np.where(chatters, chart.stretches.high, high)
        return self._joined(chart, low, high, chatters)

    def _seat(
        self, reading: Reading, seats: dict[Situation, list[tuple[Place, float]]]
    ) -> tuple[Situation, int]:
        situation = Situation.of_reading(reading)
        seat = (reading.place, unbent_input_ohms(reading.meter.input_ohms))
        plain = situation == Situation(phase=reading.phase)
        there = seats.setdefault(situation, list(self._listed) if plain else [])
        if seat not in there:
            there.append(seat)
        return situation, there.index(seat)

    def _chart_with(self, seats: Mapping[Situation, Sequence[tuple[Place, float]]]) -> Chart:
        """Return the chart of all phases, cut for further situations as well."""
        if self._chart is None or not self._charted.issuperset(seats):
            plain = {Situation(phase=phase.name): self._listed for phase in self.network.phases}
            self._charted |= {*plain, *seats}
            every: dict[Situation, Seats] = dict.fromkeys(self._charted, ())
            chart = self._run.chart({**every, **plain})
            if chart is None:
                raise NoClosedForm(self._curved_words())
            off_chart = set(range(len(self.suspects))) - set(chart.stretches.suspect.tolist())
            if off_chart and self._chosen:
                names = ", ".join(sorted(self.suspects[number].id for number in off_chart))
                raise NoClosedForm(f"{names}: moves several parts at once; judge the case instead")
            self._chart = chart
            self._lines.clear()
        return self._chart

    def _curved_words(self) -> str:
        parts = self.network.parts_in(self.network.phases[0])
        curved = [part.name for part in parts if any(b.curve is not None for b in part.branches())]
        return (
            f"{', '.join(curved) or 'a test lamp'}: what it draws is no straight line, so its "
            "severities have no closed form; judge the case instead"
        )

    def _lines_in(self, chart: Chart, situation: Situation, seats: Seats) -> _Lines:
        key = (situation, seats)
        if key not in self._lines:
            stage = self._run.stage(situation, seats)
            stretches = chart.stretches
            lines = place_lines(
                stage, stretches.suspect, stretches.low, stretches.high, chart.pieces[situation]
            )
            self._lines[key] = _Lines.of(stretches, *lines)
        return self._lines[key]

    @staticmethod
    def _chattering(chart: Chart, seats: Mapping[Situation, object]) -> BoolArray:
        chatters = np.zeros(len(chart.stretches), dtype=bool)
        for situation in seats:
            chatters |= chart.chatters[situation]
        return chatters

    def _joined(
        self, chart: Chart, low: FloatArray, high: FloatArray, chatters: BoolArray
    ) -> dict[str, tuple[Interval, ...]]:
        """Return what is left of the stretches, those that touch made one."""
        found: dict[int, list[Interval]] = {}
        owner: IntArray = chart.stretches.suspect
        for number in np.flatnonzero(low <= high).tolist():
            suspect = int(owner[number])
            own = found.setdefault(suspect, [])
            begin = float(low[number])
            if own and own[-1].high_share >= begin and own[-1].chatters == chatters[number]:
                begin = own.pop().low_share
            own.append(
                Interval(
                    suspect=self.suspects[suspect],
                    low_share=begin,
                    high_share=float(high[number]),
                    chatters=bool(chatters[number]),
                )
            )
        return {self.suspects[suspect].id: tuple(own) for suspect, own in found.items()}


def severity_intervals(
    network: Network,
    suspect: Suspect,
    readings: Sequence[Reading],
    half_widths: Sequence[float] | None = None,
) -> tuple[Interval, ...]:
    """Return at which severities one suspect could have shown all the readings, each in its band.

    >>> from circuits.engine import (
    ...     Battery, Meter, Network, Place, Reading, Resistor, find_suspect, severity_intervals)
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.0, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.001),
    ...     Resistor(name="H1", first="in", second="minus", ohms=5.998),
    ... ))
    >>> half = Reading(place=Place(key="lamp", red="in", black="minus"), phase="as drawn",
    ...                value=6.0, step=0.01, meter=Meter(input_ohms=float("inf")))
    >>> wire = find_suspect(lamp, "resistance:W1")
    >>> [[round(ohms, 2) for ohms in found.severities]
    ...  for found in severity_intervals(lamp, wire, [half], [0.1])]
    [[5.8, 6.2]]

    Raises
    ------
    BadPlace, BadPhase
        A reading names something that is not in the circuit.
    NoClosedForm
        A load has a curved law, or the suspect moves several parts at once.
    """
    prepared = PreparedCircuit(network, (), [suspect])
    return prepared.intervals(readings, half_widths).get(suspect.id, ())


def _narrow(
    low: FloatArray, high: FloatArray, lines: _Lines, seat: int, value: float, half_width: float
) -> None:
    """Narrow stretches (S,) to where a reading lies within its band."""
    above, below = lines.above[seat], lines.below[seat]
    half = half_width + lines.picked_up_volts[seat]
    for side in (-1.0, 1.0):
        # Where this is below zero the reading lies beyond that end of the band.
        still, slope = side * ((value + side * half) * below - above)
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = -still / slope
        np.maximum(low, crossing, out=low, where=slope > 0)
        np.minimum(high, crossing, out=high, where=slope < 0)
        np.copyto(high, -1.0, where=(slope == 0) & (still < 0))
