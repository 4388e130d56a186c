"""At which severities a fault could have shown the readings, exactly: intervals in closed form.

On a stretch of a suspect's line no state changes (see `chart`), and a reading is a Moebius
function of the share, (a + b u) / (c + d u). That it lies within a band is two straight
inequalities in u, so the severities that all readings allow are an interval with ends that are
simple quotients: no grid, no search, and every suspect of a circuit in one go. Of a suspect that
moves several things a reading is a ratio of polynomials, and the ends are roots of others. This is
the plain question of bands, each reading by itself; how tolerances and several readings weigh
together is asked by `judge`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from circuits.engine.ambient import at_ambient, noted_celsius
from circuits.engine.faults import Suspect
from circuits.engine.instruments import reading_bound
from circuits.engine.listing import suspects
from circuits.engine.network import Network
from circuits.engine.predicting.severity_lines import Allowed, SeverityLines
from circuits.engine.readings import Place, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Severities of one suspect, as shares from 0 (healthy) to 1 (the end), both ends included.

    A fault that is there or not is there at 1. Where the circuit `chatters` no reading is steady
    and none excludes anything.
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
        """Return whether a share lies within, its ends included."""
        return self.low_share <= share <= self.high_share


class PreparedCircuit:
    """A circuit whose lines of severity are worked out once, for any number of cases.

    The listed places are ready for readings with a usual meter; others are made ready when they
    are first met, and so is the circuit at a temperature that was noted with a reading. Without a
    list of suspects they are all that have a closed form.
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
        self._places = tuple(places)
        self._at: dict[float | None, SeverityLines] = {}

    def intervals(
        self, readings: Sequence[Reading], half_widths: Sequence[float] | None = None
    ) -> dict[str, tuple[Interval, ...]]:
        """Return, by the id of each suspect that the readings allow, at which severities.

        `half_widths` says for each reading, in its own unit, how far it may be off; without, what
        its meter may be. A reading with a temperature is asked of the circuit as it is then.

        Raises
        ------
        BadPlace, BadPhase
            A reading names something that is not in the circuit.
        NoClosedForm
            A load has a curved law, or one of the listed suspects is made of several that are
            there in full from the first, as two opens are.
        """
        if half_widths is None:
            half_widths = [reading_bound(reading) for reading in readings]
        noted: dict[float | None, list[tuple[Reading, float]]] = {}
        for reading, half_width in zip(readings, half_widths, strict=True):
            celsius = noted_celsius(self.network, reading)
            noted.setdefault(celsius, []).append((reading, half_width))
        found: dict[str, tuple[Interval, ...]] | None = None
        for celsius, banded in (noted or {None: []}).items():
            there = self._joined(self._lines_at(celsius).allowed(banded))
            if found is None:
                found = there
            else:
                both = {name: _in_both(own, there.get(name, ())) for name, own in found.items()}
                found = {name: own for name, own in both.items() if own}
        return found or {}

    def _lines_at(self, celsius: float | None) -> SeverityLines:
        if celsius not in self._at:
            self._at[celsius] = SeverityLines(
                at_ambient(self.network, celsius), self._places, self.suspects, chosen=self._chosen
            )
        return self._at[celsius]

    def _joined(self, allowed: Allowed) -> dict[str, tuple[Interval, ...]]:
        """Return intervals, those that touch made one."""
        found: dict[int, list[Interval]] = {}
        for number, begin, end, chatters in zip(*(each.tolist() for each in allowed), strict=True):
            suspect = self.suspects[number]
            if not suspect.graded:
                if end < 1.0:
                    continue
                begin = 1.0
            own = found.setdefault(number, [])
            if own and own[-1].high_share >= begin and own[-1].chatters == chatters:
                begin = own.pop().low_share
            own.append(
                Interval(suspect=suspect, low_share=begin, high_share=end, chatters=chatters)
            )
        return {self.suspects[number].id: tuple(own) for number, own in found.items()}


def _in_both(own: Sequence[Interval], also: Sequence[Interval]) -> tuple[Interval, ...]:
    """Return the severities of one suspect that are in both of two rows of intervals."""
    found = []
    for one in own:
        for other in also:
            low = max(one.low_share, other.low_share)
            high = min(one.high_share, other.high_share)
            if low <= high:
                chatters = one.chatters or other.chatters
                found.append(replace(one, low_share=low, high_share=high, chatters=chatters))
    return tuple(found)


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
        A load has a curved law, or the suspect is made of several that are there in full from the
        first, as two opens are.
    """
    prepared = PreparedCircuit(network, (), [suspect])
    return prepared.intervals(readings, half_widths).get(suspect.id, ())
