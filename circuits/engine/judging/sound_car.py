"""How far the readings of many logs lie from what the car in order shows.

What a seat shows does not depend on what else was read, so it is worked out once for all the logs
of cars whose supply was logged alike. Only where readings bear on one another, by what they bound
or because the symptom was absent, is a log weighed as a whole.
"""

import itertools
import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from circuits.engine.instruments import compared_value, meter_variance
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.intermittent import heard_of
from circuits.engine.judging.supply import shift_supply, takes_supply
from circuits.engine.network import Network
from circuits.engine.readings import Bound, Place, Reading

#: For so many logged supplies it is kept what the car shows.
SUPPLIES_KEPT = 200
#: And for so many seats besides the usual ones, such as those at a temperature or by a meter.
SEATS_KEPT = 2_000


@dataclass(frozen=True, slots=True)
class Beside:
    """A reading beside the car in order: what that would show, and how far off the reading lies.

    `predicted` is in the unit of the place, `distance` in combined standard uncertainties.
    """

    predicted: float
    distance: float


@dataclass(frozen=True, slots=True, eq=False)
class Seated:
    """A reading with the number of its seat, made ready once for all the logs that have it."""

    reading: Reading
    seat: int
    logged: float
    meter_variance: float
    takes_supply: bool
    #: Whether what it says depends on the other readings of its log.
    bears_on_others: bool


class _Shown(NamedTuple):
    """What the car in order shows at a seat; the variance is that of tolerances alone."""

    predicted: float
    half_span: float
    variance: float


class SoundCar:
    """A circuit in order, to be asked about the readings of many logs.

    `supply_places` are keys of the places that read the supply, `places` those where most readings
    will be taken.
    """

    def __init__(
        self, network: Network, supply_places: Sequence[str], places: Sequence[Place] = ()
    ) -> None:
        self._network, self._supply_places = network, tuple(supply_places)
        self._numbers = itertools.count()
        usual = (
            _seat(Reading(place=place, phase=phase.name, value=0.0, step=1.0))
            for phase in network.phases
            for place in places
            if not place.reads_ohms
        )
        self._usual = {seat: next(self._numbers) for seat in usual}
        self._seats = dict(self._usual)
        self._shown: OrderedDict[frozenset[Reading], dict[int, _Shown]] = OrderedDict()

    def seated(self, reading: Reading) -> Seated:
        """Return a reading made ready to be asked about, as often as one likes."""
        if len(self._seats) > len(self._usual) + SEATS_KEPT:
            self._seats = dict(self._usual)
        seat = _seat(reading)
        if seat not in self._seats:
            self._seats[seat] = next(self._numbers)
        return Seated(
            reading=reading,
            seat=self._seats[seat],
            logged=compared_value(reading),
            meter_variance=meter_variance(reading),
            takes_supply=takes_supply(reading, self._supply_places),
            bears_on_others=reading.symptom is False or reading.bound is not Bound.EXACT,
        )

    def beside(self, log: Sequence[Seated]) -> list[Beside | None]:
        """Return how each reading of a log stands to the car in order at this log's supply.

        None where it is set aside: taken without the symptom, and as a healthy circuit gives it.
        """
        if any(each.bears_on_others for each in log):
            return self._together([each.reading for each in log])
        shown = self._shown_at(log)
        return [_beside(each, shown[each.seat]) for each in log]

    def _together(self, readings: Sequence[Reading]) -> list[Beside | None]:
        heard = heard_of(self._network, readings, self._supply_places)
        if not heard.readings:
            return [None] * len(readings)
        healthy, _ = Bench(heard.network, heard.readings, ()).findings()
        beside = iter(list(map(Beside, healthy.predicted, healthy.distance)))
        return [None if reading in heard.aside else next(beside) for reading in readings]

    def _shown_at(self, log: Sequence[Seated]) -> dict[int, _Shown]:
        """Return by seat what is shown at this log's supply in its phases."""
        supply = frozenset([each.reading for each in log if each.takes_supply])
        shown = self._shown.setdefault(supply, {})
        self._shown.move_to_end(supply)
        if any(each.seat not in shown for each in log):
            if len(shown) > len(self._usual) + SEATS_KEPT:
                shown.clear()
            readings = [each.reading for each in log]
            phases = {reading.phase for reading in readings}
            seats = {number: seat for seat, number in self._usual.items() if seat.phase in phases}
            seats |= {each.seat: _seat(each.reading) for each in log}
            missing = [number for number in seats if number not in shown]
            network, _ = shift_supply(self._network, readings, self._supply_places)
            found = _as_shown(network, [seats[number] for number in missing])
            shown.update(zip(missing, found, strict=True))
            if len(self._shown) > SUPPLIES_KEPT:
                self._shown.popitem(last=False)
        return shown


def _seat(reading: Reading) -> Reading:
    """Return a reading without what the meter showed; of ohms that sets its range."""
    if reading.place.reads_ohms:
        return replace(reading, symptom=None)
    return replace(reading, value=0.0, step=reading.place.usual_step, symptom=None)


def _as_shown(network: Network, seats: Sequence[Reading]) -> list[_Shown]:
    bench = Bench(network, seats, ())
    sound = bench.sound()
    expected = bench.expect(sound, bench.settle(sound))
    variance = expected.variance[0] - bench.meter_variance
    columns = (expected.predicted[0], expected.half_span[0], variance)
    return [_Shown(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def _beside(seated: Seated, shown: _Shown) -> Beside:
    off = seated.logged - shown.predicted
    miss = math.copysign(max(abs(off) - shown.half_span, 0.0), off)
    return Beside(shown.predicted, miss / math.sqrt(shown.variance + seated.meter_variance))
