"""A circuit with the lines of severity of its suspects worked out, to be asked by many cases."""

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.stage import Trials
from circuits.engine.equations.wiring import IntArray, Situation, unbent_input_ohms
from circuits.engine.errors import EngineError
from circuits.engine.faults import Suspect
from circuits.engine.instruments import compared_value
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.predicting.bands import Band, Lines, Ratios, parts_within
from circuits.engine.readings import DEFAULT_INPUT_OHMS, Place, Reading
from circuits.engine.settling.chart import Chart
from circuits.engine.settling.loading import with_meter, with_meters
from circuits.engine.settling.phases import PhaseRun, Seats

# Where on a stretch it is looked whether a meter turns a diode: at both ends and in the middle.
LOOKED_AT = (0.0, 0.5, 1.0)


class NoClosedForm(EngineError):
    """A severity has no closed form here: a load's law is curved, or a fault jumps in two places.

    What says which, in trade words.
    """


class Allowed(NamedTuple):
    """Parts of lines of severity, in order of suspect and share."""

    suspect: IntArray
    low_share: FloatArray
    high_share: FloatArray
    chatters: BoolArray


class SeverityLines:
    """A circuit at one temperature with the lines of severity of its suspects.

    `chosen` says that there must be a line for every suspect; else those without are left out.
    """

    def __init__(
        self,
        network: Network,
        places: Sequence[Place],
        suspects: Sequence[Suspect],
        *,
        chosen: bool,
    ) -> None:
        self.network = network
        self.suspects = suspects
        self._chosen = chosen
        self._run = PhaseRun(network, suspects)
        # Ohms are read with the power removed, each in a situation of its own.
        self._listed: Seats = tuple(
            (place, DEFAULT_INPUT_OHMS) for place in places if not place.reads_ohms
        )
        self._chart: Chart | None = None
        self._charted: set[Situation] = set()
        #: The stretches of suspects of one move, and of those of several.
        self._one = self._several = np.zeros(0, dtype=np.intp)
        #: Readings, each with its meter's ohms, of which the meter turns a diode at some severity.
        self._turning: set[tuple[Situation, tuple[Place, float]]] = set()
        self._shown: dict[tuple[Situation, Seats], tuple[Lines, Ratios]] = {}

    def allowed(self, banded: Sequence[tuple[Reading, float]]) -> Allowed:
        """Return the severities that readings allow, each with how far it may be off.

        Raises
        ------
        NoClosedForm
            A load has a curved law, or a chosen suspect has no line.
        """
        wanted, seats = self._seats(banded)
        chart = self._chart_with(seats)
        if self._meters_turn(chart, seats):
            wanted, seats = self._seats(banded)
            chart = self._chart_with(seats)
        shown_in = {
            situation: self._shown_in(chart, situation, tuple(there))
            for situation, there in seats.items()
        }
        chatters = np.zeros(len(chart.stretches), dtype=bool)
        for situation in seats:
            chatters |= chart.chatters[situation]
        one, steady = self._one, ~chatters[self._several]
        low, high = chart.stretches.low[one], chart.stretches.high[one]
        bands = []
        for (reading, half_width), (situation, seat) in zip(banded, wanted, strict=True):
            lines, ratios = shown_in[situation]
            value = compared_value(reading)
            lines.narrow(low, high, seat, value, half_width)
            bands.append(Band(ratios, seat, value, half_width))
        low = np.where(chatters[one], chart.stretches.low[one], low)
        high = np.where(chatters[one], chart.stretches.high[one], high)
        left = np.flatnonzero(low <= high)
        several = chart.stretches.take(self._several)
        parts = parts_within(several, np.flatnonzero(steady), bands)
        restless = several.take(np.flatnonzero(~steady))
        stretch = np.concatenate([one[left], self._several[parts[0]], self._several[~steady]])
        low = np.concatenate([low[left], parts[1], restless.low])
        high = np.concatenate([high[left], parts[2], restless.high])
        if len(several):
            order = np.lexsort((low, stretch))
            stretch, low, high = stretch[order], low[order], high[order]
        return Allowed(chart.stretches.suspect[stretch], low, high, chatters[stretch])

    def _seats(
        self, banded: Sequence[tuple[Reading, float]]
    ) -> tuple[list[tuple[Situation, int]], dict[Situation, list[tuple[Place, float]]]]:
        """Return where each reading is taken, and the places that are read in each situation."""
        seats: dict[Situation, list[tuple[Place, float]]] = {}
        return [self._seat(reading, seats) for reading, _ in banded], seats

    def _seat(
        self, reading: Reading, seats: dict[Situation, list[tuple[Place, float]]]
    ) -> tuple[Situation, int]:
        situation = Situation.of_reading(reading)
        seat = (reading.place, unbent_input_ohms(reading.meter.input_ohms))
        if (situation, seat) in self._turning:
            # Its meter is a part of the circuit, with changes of state of its own.
            situation, seat = with_meter(situation, *seat), (reading.place, math.inf)
        plain = situation == Situation(phase=reading.phase)
        there = seats.setdefault(situation, list(self._listed) if plain else [])
        if seat not in there:
            there.append(seat)
        return situation, there.index(seat)

    def _meters_turn(
        self, chart: Chart, seats: Mapping[Situation, Sequence[tuple[Place, float]]]
    ) -> bool:
        """Note the readings of which the meter turns a diode somewhere; say if there are more."""
        known = len(self._turning)
        stretches = chart.stretches
        number = np.tile(np.arange(len(stretches)), len(LOOKED_AT))
        part = np.repeat(LOOKED_AT, len(stretches))
        share = stretches.low[number] + part * (stretches.high - stretches.low)[number]
        for situation, there in seats.items():
            if (situation, tuple(there)) in self._shown:
                continue
            stage = self._run.stage(situation, tuple(there))
            trials = Trials.of_singles(stretches.suspect[number], share, 1 - share)
            found = with_meters(stage, trials, chart.settled(situation, stage, trials, number))
            self._turning |= {(situation, there[each.seat]) for each in found.loaded}
        return len(self._turning) > known

    def _chart_with(self, seats: Mapping[Situation, Sequence[tuple[Place, float]]]) -> Chart:
        """Return the chart of all phases, cut for further situations as well."""
        if self._chart is None or not self._charted.issuperset(seats):
            plain = {Situation(phase=phase.name): self._listed for phase in self.network.phases}
            self._charted |= {*plain, *seats}
            every: dict[Situation, Seats] = {**dict.fromkeys(self._charted, ()), **plain}
            chart = self._run.chart(every)
            if chart is None:
                raise NoClosedForm(self._curved_words())
            off_chart = set(range(len(self.suspects))) - set(chart.stretches.suspect.tolist())
            if off_chart and self._chosen:
                names = ", ".join(sorted(self.suspects[number].id for number in off_chart))
                raise NoClosedForm(
                    f"{names}: more than one of its faults is there in full from the first; judge "
                    "the case instead"
                )
            moves = [self._run.stage(*stage).moves for stage in every.items()]
            single = np.logical_and.reduce([each.single(each.of_suspect) for each in moves])
            is_one = single[chart.stretches.suspect]
            self._one, self._several = np.flatnonzero(is_one), np.flatnonzero(~is_one)
            self._chart = chart
            self._shown.clear()
        return self._chart

    def _curved_words(self) -> str:
        parts = self.network.parts_in(self.network.phases[0])
        curved = [part.name for part in parts if any(b.curve is not None for b in part.branches())]
        return (
            f"{', '.join(curved) or 'a test lamp'}: what it draws is no straight line, so its "
            "severities have no closed form; judge the case instead"
        )

    def _shown_in(self, chart: Chart, situation: Situation, seats: Seats) -> tuple[Lines, Ratios]:
        key = (situation, seats)
        if key not in self._shown:
            stage = self._run.stage(situation, seats)
            pieces = chart.pieces[situation]
            one, several = (chart.stretches.take(own) for own in (self._one, self._several))
            self._shown[key] = (
                Lines.of(stage, one, pieces[self._one]),
                Ratios.of(stage, several, pieces[self._several]),
            )
        return self._shown[key]
