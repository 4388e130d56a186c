"""Which reading would tell most, for the minutes that it takes.

What a reading tells is the expected drop of uncertainty over the suspects, every severity of each
counted by how likely it is (J. de Kleer and B. C. Williams, Diagnosing multiple faults, Artificial
Intelligence 32, 1987, from memory). Suspects that read alike there cannot be told apart by it,
whatever their severity, so they add nothing.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from circuits.engine.judging.ranking import Hypotheses
from circuits.engine.laws import FloatArray
from circuits.engine.predicting.sweeping import sweep
from circuits.engine.readings import AS_IT_STANDS, Meter, Place, Rig

#: Severities beyond these many add little; each is solved in every phase for every rig.
MOST_HYPOTHESES = 400
#: A display tells two volts apart by its last digit. Common practice, no source.
VOLTS_STEP, AMPS_STEP = 0.01, 0.1
#: What a lead at a loose end picks up. Common practice, no source.
PICKED_UP_VOLTS = 0.05
#: A band of about 99.5 % is so many standard deviations to either side.
BAND_DEVIATIONS = 2.807
BINS = 96
#: Readings whose bands of so many deviations do not meet are told apart. Common practice.
APART_DEVIATIONS = 2.0
#: Less than this tells nothing worth a lead, in bits.
LEAST_BITS = 0.02
MOST_NAMED = 4
COMMON_METER = Meter()
# A suspect is named for an outcome that it makes this likely at least.
LEAST_NAMED = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A reading that could be taken: where, when, with what done and which meter, how long."""

    place: Place
    phase: str
    minutes: float
    rig: Rig = AS_IT_STANDS
    meter: Meter = COMMON_METER


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """What it means to read below or above the limit, and how likely that is.

    `suspects` are the likeliest then, each with its probability; "" is the circuit in order.
    """

    probability: float
    suspects: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """What a candidate would tell.

    `bits` is the expected drop of uncertainty over the suspects; `limit` (V or A) parts best what
    it would show. `wrong_now` is how often whoever names the likeliest suspect now is wrong, and
    `wrong_after` how often still after this reading.
    """

    candidate: Candidate
    bits: float
    limit: float
    below: Side
    above: Side
    wrong_now: float
    wrong_after: float

    @property
    def worth(self) -> float:
        """Return the square of what it tells over the minutes it takes, by which it is ranked.

        Bits for a minute alone run through many cheap readings that tell little; so weighed, what
        tells much comes first although it takes longer (M. Tan and J. C. Schlimmer, Two case
        studies in cost-sensitive concept acquisition, AAAI 1990, from memory).
        """
        return self.bits**2 / self.candidate.minutes


def next_readings(
    hypotheses: Hypotheses,
    candidates: Sequence[Candidate],
    *,
    twins: Sequence[Sequence[str]] = (),
) -> tuple[NextReading, ...]:
    """Return what each candidate would tell, the most for its minutes first.

    What cannot tell is left out. Candidates in ohms are: a drop under load tells more. `twins` are
    suspects that no reading parts, by id; they count as one, under the first of their names.

    Raises
    ------
    BadPlace, BadPhase
        A candidate names something that is not in the circuit.
    """
    likely = hypotheses.likeliest(MOST_HYPOTHESES)
    first_of = {name: group[0] for group in twins for name in group}
    ids = (fault.suspect.id if fault is not None else "" for fault in likely.faults)
    names = tuple(first_of.get(name, name) for name in ids)
    order = {name: number for number, name in enumerate(dict.fromkeys(names))}
    own = np.zeros((len(names), len(order)))
    own[np.arange(len(names)), [order[name] for name in names]] = 1.0
    found = []
    for (rig, meter), asked in _by_what_is_done(candidates).items():
        places = list({each.place.key: each.place for each in asked}.values())
        shown = sweep(likely.network, places, likely.faults, rig=rig, meter=meter)
        phases, keys = shown.phases, shown.places
        for each in asked:
            row, column = phases.index(each.phase), keys.index(each.place.key)
            step = AMPS_STEP if each.place.through else VOLTS_STEP
            value = shown.values[:, row, column]
            spread = (shown.high[:, row, column] - shown.low[:, row, column]) / 2 / BAND_DEVIATIONS
            # What makers state in counts comes on top of the share that the bands hold.
            spread = np.hypot(
                spread, math.hypot(meter.counts / math.sqrt(3), 1 / math.sqrt(12)) * step
            )
            spread = np.where(
                shown.floating[:, row, column], np.hypot(spread, PICKED_UP_VOLTS), spread
            )
            told = _told(each, likely.probability, own, tuple(order), value, spread)
            if told is not None and told.bits >= LEAST_BITS:
                found.append(told)
    return tuple(sorted(found, key=lambda told: (-told.worth, told.candidate.place.key)))


def _by_what_is_done(
    candidates: Sequence[Candidate],
) -> Mapping[tuple[Rig, Meter], list[Candidate]]:
    together: dict[tuple[Rig, Meter], list[Candidate]] = {}
    for each in candidates:
        if not each.place.reads_ohms:
            together.setdefault((each.rig, each.meter), []).append(each)
    return together


def _told(
    candidate: Candidate,
    probability: FloatArray,
    own: FloatArray,
    names: Sequence[str],
    value: FloatArray,
    spread: FloatArray,
) -> NextReading | None:
    """Return what one candidate tells; `own` (E, S) says which suspect each hypothesis is of."""
    edges = _edges(value, spread, probability)
    if not edges.size:
        return None
    below = _normal((edges[None] - value[:, None]) / spread[:, None])  # (E, B - 1)
    in_bin = np.diff(below, axis=1, prepend=0.0, append=1.0)  # (E, B)
    joint = own.T @ (probability[:, None] * in_bin)  # (S, B), with each suspect
    suspect, outcome = joint.sum(axis=1), joint.sum(axis=0)
    total = float(suspect.sum())
    bits = _entropy(suspect / total) + _entropy(outcome / total) - _entropy(joint / total)
    # Two outcomes that anybody can keep in mind: below the limit and above it.
    low = np.cumsum(joint, axis=1)[:, :-1]
    high = suspect[:, None] - low
    parted = (
        _entropy(suspect / total)
        + _entropies(np.stack([low.sum(axis=0), high.sum(axis=0)]) / total)
        - _entropies(np.concatenate([low, high]) / total)
    )
    best = int(np.argmax(parted))
    return NextReading(
        candidate=candidate,
        bits=float(bits),
        limit=float(edges[best]),
        below=_side(low[:, best], names),
        above=_side(high[:, best], names),
        wrong_now=1.0 - float(suspect.max()),
        wrong_after=1.0 - float(joint.max(axis=0).sum()),
    )


def _edges(value: FloatArray, spread: FloatArray, probability: FloatArray) -> FloatArray:
    """Return where to part what may be shown: wherever two readings lie apart, however closely.

    Where they run together it is parted as close as likely readings lie, and evenly.
    """
    order = np.argsort(value, kind="stable")
    reach = np.cumsum(probability[order])
    if reach[-1] <= 0:
        return np.array([])
    quantiles = np.interp(np.linspace(0, reach[-1], BINS // 2 + 1)[1:-1], reach, value[order])
    low, high = float((value - 2 * spread).min()), float((value + 2 * spread).max())
    even = np.linspace(low, high, BINS // 2 + 1)[1:-1]
    ranked, reaches = value[order], APART_DEVIATIONS * spread[order]
    # The next one begins where the last of all that lie below it has ended.
    ends, begins = np.maximum.accumulate(ranked + reaches)[:-1], (ranked - reaches)[1:]
    apart = ((ends + begins) / 2)[begins > ends]
    return np.unique(np.concatenate([quantiles, even, apart]))


def _side(weights: FloatArray, names: Sequence[str]) -> Side:
    total = float(weights.sum())
    shares = weights / total if total > 0 else weights
    order = np.argsort(-shares, kind="stable")[:MOST_NAMED]
    named = [(names[at], float(shares[at])) for at in order.tolist() if shares[at] >= LEAST_NAMED]
    return Side(probability=total, suspects=tuple(named))


def _entropy(shares: FloatArray) -> float:
    """Return the uncertainty of shares that make one, in bits."""
    some = shares[shares > 0]
    return float(-(some * np.log2(some)).sum())


def _entropies(shares: FloatArray) -> FloatArray:
    """Return the uncertainty of each column of shares (S, B), in bits."""
    some = np.where(shares > 0, shares, 1.0)
    return np.asarray(-(some * np.log2(some)).sum(axis=0), dtype=np.float64)


def _normal(deviations: FloatArray) -> FloatArray:
    """Return the share of a normal distribution below so many deviations, within 3e-4.

    E. Page, Approximations to the cumulative normal function, Applied Statistics 26, 1977 (value
    from memory).
    """
    inner = math.sqrt(2 / math.pi) * (deviations + 0.044715 * deviations**3)
    return np.asarray((1 + np.tanh(inner)) / 2)
