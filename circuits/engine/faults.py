"""Every single fault of a circuit, made from its parts, with the severity left free.

A suspect is one fault of one part or place; its severity is a free number (added ohms, ohms of a
leakage path, volts lost, amps too many). Inside, severity runs from 0 (healthy) to 1 (the end:
open, dead short, flat), because on that scale every law moves along a straight line:

* added ohms R stand for R / (1 + R), an open being 1;
* a path of R ohms stands for 1 / (1 + R), a dead short being 1;
* volts and amps stand for their share of the largest that makes sense;
* a fault that is there or not stands at 1.
"""

import difflib
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from circuits.engine.errors import EngineError
from circuits.engine.laws import Branch, FloatArray, Law
from circuits.engine.network import Network
from circuits.engine.parts import (
    Absent,
    Connector,
    FaultKind,
    IdealCurrent,
    IdealSource,
    Part,
    Weakness,
    Wire,
)

# The severity at which an added resistance or a leakage path stands at one half.
HALFWAY_OHMS = 1.0
# A path this low is a dead short for display; what stays is the joint itself.
LEAST_PATH_OHMS = 1e-4
MOST_PATH_OHMS = 1e8
LEAST_ADDED_OHMS = 1e-4
# A signal that drifts as much in every phase goes as far as the phase with the least room, but
# this far at least; where there is less, it ends at the rail.
LEAST_ROOM = 0.05
MOST_ADDED_OHMS = 1e8


PATHS = frozenset(
    {
        FaultKind.BYPASS,
        FaultKind.GROUND_SHORT,
        FaultKind.SUPPLY_SHORT,
        FaultKind.NEIGHBOUR_SHORT,
    }
)


class UnknownSuspect(EngineError):
    """A claim names a fault that this circuit cannot have."""

    def __init__(self, suspect_id: str, nearest: tuple[str, ...]) -> None:
        self.suspect_id = suspect_id
        self.nearest = nearest
        hint = f"; did you mean {' or '.join(nearest)}?" if nearest else ""
        super().__init__(f"'{suspect_id}' is not a fault this circuit can have{hint}")

    @classmethod
    def among(cls, suspect_id: str, known: Iterable[str]) -> "UnknownSuspect":
        return cls(suspect_id, tuple(difflib.get_close_matches(suspect_id, known, n=3)))


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


# How a graded fault is called at its end, where it has a name of its own there.
_ENDS = {
    FaultKind.LOW_VOLTS: "dead: no volts left",
    FaultKind.LIMITED: "gives nothing",
    FaultKind.DRAGS: "seized, or as good as seized",
    FaultKind.DISCHARGED: "flat: all of its charge lost",
}


def _log_steps(low: float, high: float, points_per_decade: int) -> FloatArray:
    count = math.ceil(math.log10(high / low) * points_per_decade - 1e-9) + 1
    return np.geomspace(low, high, count)


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


def suspects(network: Network) -> tuple[Suspect, ...]:
    """Return every single fault that this circuit can have, in the order of its parts.

    >>> from circuits.engine import Battery, Network, Resistor, suspects
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.001),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.05),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> [each.id for each in suspects(lamp) if each.target == "in"]
    ['ground-short:in', 'supply-short:in']
    """
    found: list[Suspect] = []
    for part in network.parts:
        found.extend(_part_suspects(part, network))
    supplied = {network.zero, network.supply}
    for node in network.nodes:
        if node in supplied:
            continue
        if node != network.body:
            found.append(Suspect(kind=FaultKind.GROUND_SHORT, target=node, target_words="place"))
        found.append(Suspect(kind=FaultKind.SUPPLY_SHORT, target=node, target_words="place"))
    found.extend(_neighbour_suspects(network))
    found.extend(_return_suspects(network))
    found.extend(_named_suspects(network, found))
    return tuple(found)


def find_suspect(network: Network, suspect_id: str) -> Suspect:
    """Return the suspect with this id.

    Raises
    ------
    UnknownSuspect
        The circuit cannot have that fault; the error names the nearest ones it can.
    """
    by_id = {suspect.id: suspect for suspect in suspects(network)}
    if suspect_id not in by_id:
        raise UnknownSuspect.among(suspect_id, by_id)
    return by_id[suspect_id]


def _part_suspects(part: Part, network: Network) -> Iterator[Suspect]:
    if isinstance(part, IdealSource | IdealCurrent | Absent):
        return
    plain = Suspect(
        kind=FaultKind.RESISTANCE,
        target=part.name,
        target_words=part.words,
        bypass_words=part.bypass_words,
    )
    if part.can_be_opened:
        yield plain
    if part.can_be_bypassed:
        yield replace(plain, kind=FaultKind.BYPASS)
    for kind, (weakness, most) in _weaknesses(part, network).items():
        yield replace(
            plain,
            kind=kind,
            most=most,
            least=weakness.least_severe,
            unit=weakness.unit,
            graded=weakness.graded,
            value_words=weakness.words,
            share_of=weakness.share_of,
        )


def _weaknesses(part: Part, network: Network) -> dict[FaultKind, tuple[Weakness, float]]:
    """Return what can slacken or grow in a part, and how badly."""
    found: dict[FaultKind, list[tuple[float, Weakness]]] = {}
    for state in (part, *(phase.changes.get(part.name, part) for phase in network.phases)):
        for weakness in state.weaknesses():
            most = weakness.most_severe or abs(weakness.worst_change)
            found.setdefault(weakness.kind, []).append((most, weakness))
    worst = {}
    for kind, each in found.items():
        most, weakness = max(each, key=lambda pair: pair[0])
        if weakness.within_room and most:
            most = max(min(room for room, _ in each), min(LEAST_ROOM, most))
        if most:
            worst[kind] = weakness, most
    return worst


def _neighbour_suspects(network: Network) -> Iterator[Suspect]:
    """Yield a path between the first ends of two pins that sit side by side."""
    for part in network.parts:
        if not (isinstance(part, Connector) and part.beside):
            continue
        joined = part.first, network.part(part.beside).first
        if joined[0] != joined[1]:
            yield Suspect(
                kind=FaultKind.NEIGHBOUR_SHORT,
                target=part.name,
                target_words=part.words,
                value_words=part.beside,
                joined=joined,
            )


def _return_suspects(network: Network) -> Iterator[Suspect]:
    """Yield the returns that somebody may have fitted to the battery's post, not to the body.

    What flows there goes round a sensor at the post, and round the body's strap.
    """
    if network.body == network.zero:
        return
    for part in network.parts:
        if not isinstance(part, Wire) or network.body not in part.ends:
            continue
        other = part.first if part.second == network.body else part.second
        if other == network.zero:
            continue
        plain = Suspect(kind=FaultKind.RESISTANCE, target=part.name, target_words=part.words)
        way = replace(
            plain,
            kind=FaultKind.NEIGHBOUR_SHORT,
            target=f"{part.name}, moved",
            joined=(other, network.zero),
        )
        yield replace(
            plain,
            kind=FaultKind.RETURN_ELSEWHERE,
            most=1.0,
            unit="%",
            graded=False,
            value_words=f"{network.zero} instead of {network.body}",
            members=(
                Fault(suspect=plain, severity=math.inf),
                Fault(suspect=way, severity=part.ohms),
            ),
        )


def _named_suspects(network: Network, listed: Sequence[Suspect]) -> Iterator[Suspect]:
    """Yield the compound faults that the circuit names."""
    by_id = {suspect.id: suspect for suspect in listed}
    for compound in network.compounds:
        for suspect_id, _ in compound.faults:
            if suspect_id not in by_id:
                raise UnknownSuspect.among(suspect_id, by_id)
        yield Suspect(
            kind=FaultKind.NAMED,
            target=compound.name,
            target_words=compound.words,
            most=1.0,
            unit="%",
            share_of="of it",
            members=tuple(
                single
                for suspect_id, severity in compound.faults
                for single in _singles(Fault(suspect=by_id[suspect_id], severity=severity))
            ),
        )


def _singles(fault: Fault) -> tuple[Fault, ...]:
    """Return the faults that one is made of, or itself."""
    return fault.suspect.members_at(fault.severity) or (fault,)


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
