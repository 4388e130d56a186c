"""What a reading beside the normal range would mean, from every single fault of the circuit."""

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from circuits.engine import Fault, FaultKind, Sweep
from circuits.part_sheets.checks import Meaning

MOST_NAMED = 5
MOST_KINDS = 3
#: The commonest kinds first. Common practice, no source.
_KIND_WORDS = {
    FaultKind.RESISTANCE: "resistance or open",
    FaultKind.LOW_VOLTS: "weak source",
    FaultKind.DISCHARGED: "discharged",
    FaultKind.BYPASS: "shorted or stuck",
    FaultKind.GROUND_SHORT: "short to ground",
    FaultKind.SUPPLY_SHORT: "short to supply",
    FaultKind.DRAGS: "drags",
    FaultKind.DRAWS_MORE: "draws more",
    FaultKind.LIMITED: "limited source",
    FaultKind.LOST_PHASE: "lost phase",
    FaultKind.FALLS_BACK: "falls back",
    FaultKind.NEIGHBOUR_SHORT: "short between neighbours",
    FaultKind.DRIFTS_UP: "drifted up",
    FaultKind.DRIFTS_DOWN: "drifted down",
    FaultKind.WRONG_HIGH: "wrong part, too many ohms or watts",
    FaultKind.WRONG_LOW: "wrong part, too few ohms or watts",
    FaultKind.SEIZED: "seized",
    FaultKind.RETURN_ELSEWHERE: "return fitted elsewhere",
    FaultKind.NAMED: "a fault of its own name",
    FaultKind.REVERSED: "the wrong way round",
}


def meanings(shown: Sweep, row: int, column: int, step: float) -> Iterator[Meaning]:
    """Yield what readings below and above the healthy range speak for, by `step` or more.

    `row` and `column` are the phase and place of a check among those that were swept; `step` is
    what the meter cannot tell apart [V or A].
    """
    values = shown.values[:, row, column]
    steady = ~(shown.floating[:, row, column] | shown.chatters[:, row, column])
    low, high = shown.low[0, row, column] - step, shown.high[0, row, column] + step
    for side, beyond in (("lower", low - values), ("higher", values - high)):
        named = _named(shown.faults, np.where(steady, beyond, 0.0))
        if named:
            yield Meaning(side=side, words="; ".join(named))


def _named(faults: Sequence[Fault | None], beyond: npt.NDArray[np.float64]) -> list[str]:
    """Return the suspects that reach beyond a limit, the commonest kinds first."""
    reach: dict[FaultKind, dict[str, float]] = {}
    for fault, far in zip(faults, beyond.tolist(), strict=True):
        if fault is not None and fault.suspect.kind in _KIND_WORDS and far > 0:
            targets = reach.setdefault(fault.suspect.kind, {})
            targets[fault.suspect.target] = max(targets.get(fault.suspect.target, 0.0), far)
    words = []
    for kind in [kind for kind in _KIND_WORDS if kind in reach][:MOST_KINDS]:
        names = sorted(reach[kind], key=lambda name: -reach[kind][name])
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        words.append(f"{_KIND_WORDS[kind]}: {', '.join(names[:MOST_NAMED])}{more}")
    return words
