"""What a drawing shows of a phase: bands of volts, figures, contacts as they stand, currents."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from circuits.engine import Absent, Driver, Fault, Network, RuleContact, Switch, solve

#: Current below this is no current to anybody who reads a drawing.
LEAST_AMPS = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A range of volts, as a share of the highest supply, with the look of its conductors.

    The colours run from blue at 0 V over a plain grey to a burnt orange at the supply, both ends
    darker than the middle. People who lack one kind of cone confuse red with green, hardly ever
    orange with blue, and grey stays grey to all. Number, width and dashes say the same as the
    colour, on paper without ink as well.
    """

    number: int
    words: str
    least_share: float
    colour: str
    width: float
    dashes: str


BANDS: tuple[Band, ...] = (
    Band(number=0, words="at 0 V", least_share=-9, colour="#22577f", width=1.4, dashes=""),
    Band(number=1, words="a little", least_share=0.04, colour="#3f8fc0", width=1.8, dashes="2 3"),
    Band(number=2, words="about half", least_share=0.25, colour="#85807a", width=1.8, dashes="6 3"),
    Band(number=3, words="most", least_share=0.65, colour="#c07a2c", width=2.0, dashes="12 3"),
    Band(number=4, words="supply", least_share=0.93, colour="#8f3608", width=2.8, dashes=""),
)
LOOSE_BAND = Band(
    number=-1, words="floating", least_share=-99, colour="#4f483f", width=1.4, dashes="1 4"
)


def band_of(volts: float | None, supply_volts: float) -> Band:
    """Return the band of a connection's volts; None floats.

    >>> band_of(12.2, 12.4).number, band_of(6.0, 12.4).number, band_of(None, 12.4).words
    (4, 2, 'floating')
    """
    if volts is None:
        return LOOSE_BAND
    share = abs(volts) / supply_volts if supply_volts > 0 else 0
    return next(band for band in reversed(BANDS) if share >= band.least_share)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseState:
    """A circuit in one phase, as far as a drawing shows it."""

    phase: str
    volts: Mapping[str, float | None]
    amps: Mapping[str, float]
    #: Contact, switch, driver or rule -> whether it is made.
    made: Mapping[str, bool]
    absent: frozenset[str]
    supply_volts: float
    chatters: bool
    #: The part or connection at which a fault was put in.
    fault_at: str = ""

    def band(self, net: str) -> Band:
        return band_of(self.volts.get(net), self.supply_volts)

    def flow(self, part: str) -> float:
        """Return the amps of a part from its first end to its second; none if too few to show."""
        amps = self.amps.get(part, 0.0)
        return amps if abs(amps) >= LEAST_AMPS else 0.0


def states_of(network: Network, fault: Fault | None = None) -> dict[str, PhaseState]:
    """Return the state of a circuit in every phase, by the phase's name."""
    states = {}
    for phase, solution in zip(network.phases, solve(network, fault), strict=True):
        parts = [phase.changes.get(part.name, part) for part in network.parts]
        made = dict(solution.contacts)
        for part in parts:
            if isinstance(part, Switch | Driver):
                made[part.name] = part.closed
            elif isinstance(part, RuleContact) and not part.enabled:
                made[part.name] = False
        absent = frozenset(part.name for part in parts if isinstance(part, Absent))
        states[phase.name] = PhaseState(
            phase=phase.name,
            volts=MappingProxyType(dict(solution.volts)),
            amps=MappingProxyType(dict(solution.amps)),
            made=MappingProxyType(made),
            absent=absent,
            supply_volts=_supply_volts(network, solution.volts),
            chatters=solution.chatters,
            fault_at=fault.suspect.target if fault is not None else "",
        )
    return states


def _supply_volts(network: Network, volts: Mapping[str, float | None]) -> float:
    """Return the volts of the vehicle's supply; of the highest connection if that is dead."""
    supply = volts.get(network.supply)
    known = [abs(each) for each in volts.values() if each is not None]
    return supply if supply else max(known, default=0.0)
