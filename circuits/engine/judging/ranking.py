"""How likely each suspect is: by readings and codes, by how common it is, and by past cases.

Every suspect is taken at many severities, each with a share of the suspect's own likelihood, so a
fault that fits in a narrow stretch alone counts for less than one that fits over decades (Bayes'
factor; H. Jeffreys, Theory of Probability, 1939, from memory). How likely readings are follows from
their joint misfit and covariance, as the verdict has them.

A share is always kept for what is not in the model. What it would show nobody knows, so any figure
between the least and the most that a suspect makes of a reading is as likely as another. Where
nothing fits it takes all, where something fits it stays small.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.wiring import IntArray
from circuits.engine.faults import Fault, Suspect
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.intermittent import heard_of
from circuits.engine.judging.monitors import ToldCode, told_log_likelihood
from circuits.engine.judging.tried import Tried
from circuits.engine.laws import FloatArray
from circuits.engine.listing import suspects
from circuits.engine.network import Network
from circuits.engine.parts.part import FaultKind
from circuits.engine.readings import Reading

#: How common a fault of each kind is beside a bad joint. Common practice, no source.
KIND_WEIGHTS: Mapping[FaultKind, float] = MappingProxyType(
    {
        FaultKind.RESISTANCE: 1.0,
        FaultKind.GROUND_SHORT: 0.25,
        FaultKind.SUPPLY_SHORT: 0.1,
        FaultKind.NEIGHBOUR_SHORT: 0.1,
        FaultKind.BYPASS: 0.25,
        FaultKind.RETURN_ELSEWHERE: 0.05,
        FaultKind.REVERSED: 0.05,
    }
)
OTHER_WEIGHT = 0.4
#: A verified case of the same circuit counts as much as one bad joint in general does.
CASE_WEIGHT = 1.0
#: A vehicle with a complaint is seldom in order. Common practice, no source.
HEALTHY_SHARE = 0.02
OUTSIDE_SHARE = 0.05
#: Of faults with an end (an open, a dead short) this many are at it. Common practice, no source.
AT_THE_END = 0.35
# With no readings a grid of this many severities a decade is enough.
POINTS_PER_DECADE = 2
# Codes are tried under what readings leave this likely beside the likeliest: e to this power.
LEAST_LOG_SHARE = -18.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypotheses:
    """Suspects at severities, and how likely each is; the probabilities and `outside` make one.

    `faults` holds None for the circuit in order. `network` is the circuit with this car's supply.
    """

    network: Network
    faults: tuple[Fault | None, ...]
    probability: FloatArray  # (E,)
    outside: float

    def by_suspect(self) -> dict[str, float]:
        """Return how likely each suspect is, the likeliest first; "" is the circuit in order."""
        total: dict[str, float] = {}
        for fault, probability in zip(self.faults, self.probability.tolist(), strict=True):
            name = fault.suspect.id if fault is not None else ""
            total[name] = total.get(name, 0.0) + probability
        return dict(sorted(total.items(), key=lambda each: -each[1]))

    def likeliest(self, most: int) -> "Hypotheses":
        """Return the most likely ones, as if there were no others beside what is outside."""
        order = np.argsort(-self.probability, kind="stable")[:most]
        kept = self.probability[order]
        scale = (1 - self.outside) / kept.sum() if kept.sum() else 0.0
        return Hypotheses(
            network=self.network,
            faults=tuple(self.faults[number] for number in order.tolist()),
            probability=kept * scale,
            outside=self.outside,
        )


def weigh_suspects(
    network: Network,
    readings: Sequence[Reading] = (),
    *,
    supply_places: Sequence[str] = (),
    cases: Mapping[str, int] = MappingProxyType({}),
    codes: Sequence[ToldCode] = (),
) -> Hypotheses:
    """Return how likely every suspect is at every severity.

    Parameters
    ----------
    supply_places
        Keys of the places that read the supply itself, as for `judge`.
    cases
        Verified cases of this circuit by suspect id: how often it was that.
    codes
        Codes that are set, and codes whose monitors ran without setting them.

    Raises
    ------
    BadPlace, BadPhase
        A reading or a code names something that is not in the circuit.

    Examples
    --------
    Six volts are missing at a lamp: it is the wire, or the lamp draws more, and hardly healthy.

    >>> from circuits.engine import Battery, Network, Place, Reading, Resistor, weigh_suspects
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> at_lamp = Place(key="lamp", red="in", black="minus")
    >>> logged = Reading(place=at_lamp, phase="as drawn", value=6.27, step=0.01)
    >>> likely = weigh_suspects(lamp, [logged]).by_suspect()
    >>> likely[""] < 0.001
    True
    """
    listed = suspects(network)
    heard = heard_of(network, readings, supply_places)
    prior = _prior(listed, cases)
    if not heard.readings:
        return _with_codes(_unread(heard.network, listed, prior), codes)
    bench = Bench(heard.network, heard.readings, listed)
    bench.findings()
    assert bench.tried is not None  # by what `findings` has just done
    exact = bench.open_side == 0
    return _with_codes(_weighed(heard.network, listed, prior, bench.tried, exact), codes)


def _with_codes(weighed: Hypotheses, codes: Sequence[ToldCode]) -> Hypotheses:
    """Return hypotheses with how likely each makes the codes taken into account."""
    if not any(code.speaks for code in codes):
        return weighed
    least = weighed.probability.max(initial=0.0) * math.exp(LEAST_LOG_SHARE)
    chosen = np.flatnonzero(weighed.probability > least)
    faults = tuple(weighed.faults[number] for number in chosen.tolist())
    likelihood, outside = told_log_likelihood(weighed.network, codes, faults)
    highest = max(float(likelihood.max(initial=-math.inf)), outside)
    probability = weighed.probability[chosen] * np.exp(likelihood - highest)
    outside_weight = weighed.outside * math.exp(outside - highest)
    total = float(probability.sum()) + outside_weight
    return Hypotheses(
        network=weighed.network,
        faults=faults,
        probability=probability / total,
        outside=outside_weight / total,
    )


def prior_weight(suspect: Suspect) -> float:
    """Return how common a fault of this kind is beside a bad joint, before anybody had it."""
    return KIND_WEIGHTS.get(suspect.kind, OTHER_WEIGHT)


def _prior(listed: Sequence[Suspect], cases: Mapping[str, int]) -> FloatArray:
    """Return the share of each suspect before anything is read, of a car that is not in order."""
    weights = np.array(
        [prior_weight(suspect) + CASE_WEIGHT * cases.get(suspect.id, 0) for suspect in listed]
    )
    return np.asarray(weights / weights.sum() * (1 - HEALTHY_SHARE - OUTSIDE_SHARE))


def _unread(network: Network, listed: Sequence[Suspect], prior: FloatArray) -> Hypotheses:
    faults: list[Fault | None] = [None]
    probability = [HEALTHY_SHARE]
    for suspect, share in zip(listed, prior.tolist(), strict=True):
        severities = suspect.severity_grid(POINTS_PER_DECADE)
        faults += [Fault(suspect=suspect, severity=float(each)) for each in severities]
        probability += (share * _severity_shares(severities)).tolist()
    return Hypotheses(
        network=network,
        faults=tuple(faults),
        probability=np.array(probability),
        outside=OUTSIDE_SHARE,
    )


def _weighed(
    network: Network,
    listed: Sequence[Suspect],
    prior: FloatArray,
    tried: Tried,
    exact: BoolArray,
) -> Hypotheses:
    rows: list[IntArray] = []
    shares: list[FloatArray] = []
    healthy = np.flatnonzero(tried.move == 0)[:1]
    rows.append(healthy)
    shares.append(np.array([HEALTHY_SHARE]))
    for number, share in enumerate(prior.tolist(), start=1):
        own = np.flatnonzero(tried.move == number)
        own = own[np.argsort(tried.severity[own], kind="stable")]
        rows.append(own)
        shares.append(share * _severity_shares(tried.severity[own]))
    row = np.concatenate(rows)
    with np.errstate(divide="ignore"):
        logarithm = np.log(np.concatenate(shares))
    logarithm += (tried.log_precision[row] - tried.misfit[row]) / 2
    logarithm -= _spread_by_chatter(tried)[row]
    outside = math.log(OUTSIDE_SHARE) + _log_density_anywhere(tried, exact)
    highest = max(float(logarithm.max()), outside)
    weight = np.exp(logarithm - highest)
    outside_weight = math.exp(outside - highest)
    total = float(weight.sum()) + outside_weight
    faults = [
        Fault(suspect=listed[move - 1], severity=severity) if move else None
        for move, severity in zip(
            tried.move[row].tolist(), tried.severity[row].tolist(), strict=True
        )
    ]
    return Hypotheses(
        network=network,
        faults=tuple(faults),
        probability=weight / total,
        outside=outside_weight / total,
    )


def _spread_by_chatter(tried: Tried) -> FloatArray:
    """Return by how much (E,) a chatter lowers the logarithm of a density.

    What may show anything between two states explains every figure there, each of them less: a
    normal density that is 1 at its peak has an area of sigma sqrt(2 pi), and the span comes on top.
    """
    area = math.sqrt(2 * math.pi) * tried.uncertainty
    return np.asarray(np.log1p(2 * tried.half_span / area).sum(axis=1), dtype=np.float64)


def _log_density_anywhere(tried: Tried, exact: BoolArray) -> float:
    """Return the density of readings that may lie anywhere, beside a normal one of log 0.

    A least or a most, not `exact` (m,), has none, here as for the suspects.
    """
    reach = 2 * tried.uncertainty
    spans = (tried.predicted + reach).max(axis=0) - (tried.predicted - reach).min(axis=0)
    return float((math.log(2 * math.pi) / 2 - np.log(spans[exact])).sum())


def _severity_shares(severities: FloatArray) -> FloatArray:
    """Return how likely each of some severities (n,) is: even on a log scale, and heavy at an end.

    Tried severities crowd where something happens; each stands for the stretch around it.
    """
    shares = np.zeros(len(severities))
    inner = np.flatnonzero(np.isfinite(severities) & (severities > 0))
    ends = np.setdiff1d(np.arange(len(severities)), inner)
    at_end = (AT_THE_END if len(inner) else 1.0) if len(ends) else 0.0
    if len(ends):
        shares[ends] = at_end / len(ends)
    if len(inner):
        order = inner[np.argsort(severities[inner], kind="stable")]
        place = np.log(severities[order])
        edges = np.concatenate([place[:1], (place[1:] + place[:-1]) / 2, place[-1:]])
        width = np.diff(edges)
        even = width / width.sum() if width.sum() > 0 else np.full(len(order), 1 / len(order))
        shares[order] = (1 - at_end) * even
    return shares
