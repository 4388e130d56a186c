"""What a single fault is: a suspect with its severity left free, and what it makes of a part.

A suspect is one fault of one part or place; its severity is a free number (added ohms, ohms of a
leakage path, volts lost, amps too many). Inside, severity runs from 0 (healthy) to 1 (the end:
open, dead short, flat), because on that scale every law moves along a straight line:

* added ohms R stand for R / (1 + R), an open being 1;
* a path of R ohms stands for 1 / (1 + R), a dead short being 1;
* volts and amps stand for their share of the largest that makes sense;
* a fault that is there or not stands at 1.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from circuits.engine.laws import Branch, FloatArray, Law
from circuits.engine.network import Network
from circuits.engine.parts import (
    FaultKind,
    Part,
)

# The severity at which an added resistance or a leakage path stands at one half.
HALFWAY_OHMS = 1.0
# A path this low is a dead short for display; what stays is the joint itself.
LEAST_PATH_OHMS = 1e-4
MOST_PATH_OHMS = 1e8
LEAST_ADDED_OHMS = 1e-4
MOST_ADDED_OHMS = 1e8


BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]

PATHS = frozenset(
    {
        FaultKind.BYPASS,
        FaultKind.GROUND_SHORT,
        FaultKind.SUPPLY_SHORT,
        FaultKind.NEIGHBOUR_SHORT,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One fault with its severity left free; `target` is a part, or a place for a short.

    A severity is in `unit`: ohms added in series (infinite is an open), ohms of a path (0 is a
    dead short, infinite is none), or volts, amps, watts or a fraction for % too many or too few.

    >>> from circuits.engine import FaultKind, Suspect
    >>> joint = Suspect(kind=FaultKind.RESISTANCE, target="C40", target_words="connector")
    >>> joint.id, joint.describe(1.1), joint.describe(float("inf"))
    ('resistance:C40', 'C40: 1.1 Ohm added resistance', 'C40: connector open')
    """

    kind: FaultKind
    target: str
    target_words: str
    bypass_words: str = ""
    #: The severity at its worst, for all but ohms in series and across.
    most: float = math.inf
    #: The severity below which it is no such fault.
    least: float = 0.0
    unit: str = "ohm"
    #: Whether it comes in degrees; if not, it is there, at `most`, or it is not.
    graded: bool = True
    #: What it moves, in trade words, where its kind does not say.
    value_words: str = ""
    #: What a severity in % is a share of, in words.
    share_of: str = ""
    #: The two places that a path joins, where they are not told by kind and target.
    joined: tuple[str, str] | None = None
    #: The faults that it is made of, each as bad as at its worst; none for one that is its own.
    members: tuple["Fault", ...] = ()

    @property
    def id(self) -> str:
        return f"{self.kind}:{self.target}"

    @property
    def is_path(self) -> bool:
        return self.kind in PATHS

    @property
    def in_ohms(self) -> bool:
        """Whether its severity is ohms, added or across: its inner scale is bent."""
        return self.is_path or self.kind is FaultKind.RESISTANCE

    def members_at(self, severity: float) -> tuple["Fault", ...]:
        """Return the faults that it is made of at a severity: ohms, volts and amps in proportion.

        A path of so many ohms at its worst has twice as many at half of it.
        """
        part = severity / self.most
        return tuple(
            Fault(
                suspect=member.suspect,
                severity=member.severity / part
                if member.suspect.is_path
                else member.severity * part,
            )
            for member in self.members
            if part > 0
        )

    def can_be(self, severity: float) -> bool:
        """Return whether the fault can be this bad."""
        return self.least <= severity <= self.most if self.graded else severity == self.most

    def describe(self, severity: float | None = None) -> str:
        """Return the fault in trade words, with its severity if one is given."""
        if severity is None:
            return f"{self.target}: {self._free_words()}"
        return f"{self.target}: {self._words_at(severity)}"

    def _free_words(self) -> str:
        part, value = self.target_words, self.value_words
        return {
            FaultKind.RESISTANCE: f"{part} with high resistance or open",
            FaultKind.BYPASS: f"{part} {self.bypass_words}",
            FaultKind.GROUND_SHORT: "short or leakage to ground",
            FaultKind.SUPPLY_SHORT: "short or leakage to supply",
            FaultKind.NEIGHBOUR_SHORT: f"short or leakage to its neighbour {value}",
            FaultKind.LOW_VOLTS: f"{part} weak (too few volts)",
            FaultKind.LIMITED: f"{part} with limited output",
            FaultKind.DRAGS: f"{part} drags or is seized",
            FaultKind.DRAWS_MORE: f"{part} draws more",
            FaultKind.DRIFTS_UP: f"{part} off: {value} too high",
            FaultKind.DRIFTS_DOWN: f"{part} off: {value} too low",
            FaultKind.WRONG_HIGH: f"wrong {part} fitted, with more {value}",
            FaultKind.WRONG_LOW: f"wrong {part} fitted, with fewer {value}",
            FaultKind.DISCHARGED: f"{part} discharged",
            FaultKind.REVERSED: f"{part} fitted the wrong way round",
            FaultKind.FALLS_BACK: f"{part} no longer told its volts, falls back",
            FaultKind.LOST_PHASE: f"{part} has lost a phase",
            FaultKind.SEIZED: f"{part} seized",
            FaultKind.RETURN_ELSEWHERE: f"{part} fitted to {value}",
            FaultKind.NAMED: part,
        }[self.kind]

    def _words_at(self, severity: float) -> str:
        if not self.graded:
            return self._free_words()
        if self.kind is FaultKind.RESISTANCE:
            if severity >= MOST_ADDED_OHMS:
                return f"{self.target_words} open"
            return f"{format_ohms(severity)} added resistance"
        if self.is_path:
            where = {
                FaultKind.GROUND_SHORT: "to ground",
                FaultKind.SUPPLY_SHORT: "to supply",
                FaultKind.NEIGHBOUR_SHORT: f"to its neighbour {self.value_words}",
            }.get(self.kind, "across it")
            if severity <= LEAST_PATH_OHMS:
                return f"dead short {where}"
            return f"path of {format_ohms(severity)} {where}"
        if severity >= self.most and self.kind in _ENDS:
            return f"{self.target_words} {_ENDS[self.kind]}"
        part, value = self.target_words, self.value_words
        amount = f"{severity:.3g} {self.unit}"
        if self.unit == "%":
            amount = f"{_three_digits(100 * severity)} % {self.share_of}".strip()
        return {
            FaultKind.LOW_VOLTS: f"{amount} too few",
            FaultKind.LIMITED: f"output limited by {amount}",
            FaultKind.DRAGS: f"drags, {amount} too many",
            FaultKind.DRAWS_MORE: f"draws {amount} too many",
            FaultKind.DRIFTS_UP: f"{value} {amount} too high",
            FaultKind.DRIFTS_DOWN: f"{value} {amount} too low",
            FaultKind.WRONG_HIGH: f"wrong {part}, {amount} more {value}",
            FaultKind.WRONG_LOW: f"wrong {part}, {amount} fewer {value}",
            FaultKind.DISCHARGED: f"{amount} of its charge lost",
            FaultKind.LOST_PHASE: f"a phase lost, {amount} less output",
            FaultKind.NAMED: f"{part}, {amount}",
        }[self.kind]

    def share(self, severity: float) -> tuple[float, float]:
        """Return severity on the inner scale, as (share, 1 - share), each exact near its end."""
        if self.kind is FaultKind.RESISTANCE:
            if math.isinf(severity):
                return 1.0, 0.0
            total = HALFWAY_OHMS + severity
            return severity / total, HALFWAY_OHMS / total
        if self.is_path:
            if math.isinf(severity):
                return 0.0, 1.0
            total = HALFWAY_OHMS + severity
            return HALFWAY_OHMS / total, severity / total
        share = severity / self.most
        return share, 1 - share

    def severity_at(self, share: float) -> float:
        """Return the severity at a share of the inner scale, the inverse of `share`."""
        if self.kind is FaultKind.RESISTANCE:
            return math.inf if share >= 1 else HALFWAY_OHMS * share / (1 - share)
        if self.is_path:
            return math.inf if share <= 0 else HALFWAY_OHMS * (1 - share) / share
        return share * self.most

    def severity_grid(self, points_per_decade: int = 4) -> FloatArray:
        """Return severities from barely to fully faulty, spread evenly on a logarithmic scale."""
        if self.kind is FaultKind.RESISTANCE:
            steps = _log_steps(LEAST_ADDED_OHMS, MOST_ADDED_OHMS, points_per_decade)
            return np.append(steps, math.inf)
        if self.is_path:
            steps = _log_steps(LEAST_PATH_OHMS, MOST_PATH_OHMS, points_per_decade)
            return np.append(steps[::-1], 0.0)
        if not self.graded:
            return np.array([self.most])
        least = max(self.least, self.most * 1e-5)
        return _log_steps(least, self.most, 2 * points_per_decade)


class Scales:
    """The severities of a row of suspects, as shares and back, many at once.

    None among the suspects is the healthy circuit, whose share is nought.
    """

    def __init__(self, suspects: Sequence[Suspect | None]) -> None:
        self._in_ohms = np.array([each is not None and each.in_ohms for each in suspects])
        self._is_path = np.array([each is not None and each.is_path for each in suspects])
        self._graded = np.array([each is None or each.graded for each in suspects])
        self._least = np.array([0.0 if each is None else each.least for each in suspects])
        self._most = np.array([math.inf if each is None else each.most for each in suspects])

    def shares(self, number: IntArray, severity: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return severities of suspects by number (E,) as shares and 1 - share, see `share`."""
        total = HALFWAY_OHMS + severity
        with np.errstate(invalid="ignore"):
            far = np.where(np.isinf(severity), 1.0, severity / total)
            straight = severity / self._most[number]
        near = HALFWAY_OHMS / total
        in_ohms, is_path = self._in_ohms[number], self._is_path[number]
        share = np.where(in_ohms, np.where(is_path, near, far), straight)
        rest = np.where(in_ohms, np.where(is_path, far, near), 1 - straight)
        return share, rest

    def severities(self, number: IntArray, share: FloatArray) -> FloatArray:
        """Return the severities at shares of suspects by number (E,), see `severity_at`."""
        in_ohms, is_path = self._in_ohms[number], self._is_path[number]
        part = np.where(is_path, 1 - share, share)
        with np.errstate(divide="ignore", invalid="ignore"):
            ohms = np.where(part >= 1, math.inf, HALFWAY_OHMS * part / (1 - part))
            return np.where(in_ohms, ohms, share * self._most[number])

    def can_be(self, number: IntArray, severity: FloatArray) -> BoolArray:
        """Return which suspects by number (E,) can be that bad, see `Suspect.can_be`."""
        least, most = self._least[number], self._most[number]
        within = (least <= severity) & (severity <= most)
        return np.asarray(np.where(self._graded[number], within, severity == most))


# How a graded fault is called at its end, where it has a name of its own there.
_ENDS = {
    FaultKind.LOW_VOLTS: "dead: no volts left",
    FaultKind.LIMITED: "gives nothing",
    FaultKind.DRAGS: "seized, or as good as seized",
    FaultKind.DISCHARGED: "flat: all of its charge lost",
}


@cache
def _log_steps(low: float, high: float, points_per_decade: int) -> FloatArray:
    count = math.ceil(math.log10(high / low) * points_per_decade - 1e-9) + 1
    steps = np.geomspace(low, high, count)
    steps.flags.writeable = False
    return steps


def format_ohms(ohms: float) -> str:
    """Return ohms as they are said at the bench.

    >>> from circuits.engine import format_ohms
    >>> format_ohms(0.045), format_ohms(1.1), format_ohms(6800)
    ('45 mOhm', '1.1 Ohm', '6.8 kOhm')
    """
    for factor, unit in ((1e6, "MOhm"), (1e3, "kOhm"), (1.0, "Ohm")):
        if ohms >= factor:
            return f"{_three_digits(ohms / factor)} {unit}"
    return f"{_three_digits(ohms * 1e3)} mOhm"


def _three_digits(value: float) -> str:
    return f"{float(f'{value:.3g}'):g}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A suspect at one severity, in its unit; an open is infinite added ohms.

    >>> from circuits.engine import Fault, FaultKind, Suspect
    >>> joint = Suspect(kind=FaultKind.RESISTANCE, target="C40", target_words="connector")
    >>> str(Fault(suspect=joint, severity=0.25))
    'C40: 250 mOhm added resistance'
    """

    suspect: Suspect
    severity: float

    def __str__(self) -> str:
        return self.suspect.describe(self.severity)


def part_at_worst(part: Part, suspect: Suspect) -> Part:
    """Return the part as it is at severity 1 of a suspect that moves one of its values."""
    return part_moved(part, suspect, 1.0)


def part_moved(part: Part, suspect: Suspect, share: float) -> Part:
    """Return the part with the value that a suspect moves at a share of its way to the worst.

    What grows by a severity of its own grows by as much in every phase. What shrinks goes to its
    own worst along its own line: a generator commanded lower in one phase still ends at nothing.
    """
    for weakness in part.weaknesses():
        if weakness.kind is suspect.kind:
            change = weakness.worst_change
            if weakness.within_room:
                change = math.copysign(min(suspect.most, abs(change)), change)
            elif change > 0 and weakness.most_severe is None:
                change = suspect.most
            value = getattr(part, weakness.value)
            return replace(part, **{weakness.value: value + share * change})
    return part


def with_series_ohms(law: Law) -> Law:
    """Return the end of a law's line as resistance is added to its branch: an open.

    Between law and end at share u stands the law with u / (1 - u) halfway-ohms in series, times
    1 - u. A law that is an open, or a current, already stays as it is.
    """
    if not law.fixes_volts():
        return law
    return Law(0.0, HALFWAY_OHMS * law.volts_factor, 0.0)


def path_ends(network: Network, suspect: Suspect) -> tuple[str, str]:
    """Return the two places that a path suspect joins."""
    if suspect.joined is not None:
        return suspect.joined
    if suspect.kind is FaultKind.GROUND_SHORT:
        return suspect.target, network.body
    if suspect.kind is FaultKind.SUPPLY_SHORT:
        return suspect.target, network.supply
    part = network.part(suspect.target)
    return part.first, part.second


def worst_branches(part: Part, suspect: Suspect) -> tuple[Branch, ...]:
    """Return the branches that a suspect moves, as they are at severity 1.

    There are several where a part has more than one that moves at the same share, as the track on
    either side of a wiper; there is none where the part, in this phase, has nothing to lose.
    """
    if suspect.kind is FaultKind.RESISTANCE:
        name = part.series_branch()
        branch = next((branch for branch in part.branches() if branch.name == name), None)
        if branch is None:
            return ()
        return (replace(branch, pieces=tuple(with_series_ohms(law) for law in branch.pieces)),)
    return tuple(
        worst
        for drawn, worst in zip(
            part.branches(), part_at_worst(part, suspect).branches(), strict=True
        )
        if (drawn.pieces, drawn.control, drawn.curve) != (worst.pieces, worst.control, worst.curve)
    )
