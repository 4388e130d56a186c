"""What places read as one fault gets worse: from healthy to the end, and where states change."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from circuits.engine import (
    AS_IT_STANDS,
    Battery,
    CurrentLoad,
    Fault,
    Meter,
    Network,
    Place,
    Prediction,
    Rig,
    States,
    Suspect,
    Sweep,
    Sweeper,
)
from circuits.predicting.severities import SeverityScale

POINTS_PER_DECADE = 6
# Where a state changes, the gap between two severities is filled so often, with so many: what is
# left of a sixth of a decade is a thousandth.
FINER_ROUNDS = 4
FINER_POINTS = 3

#: What a part of this kind does once it has passed none, one, two of its thresholds.
_DOES: Mapping[str, tuple[str, ...]] = {
    "battery": ("gives current", "takes charge"),
    "diode": ("blocks", "conducts"),
    "generator": ("reaches its limit", "holds its volts", "gives nothing"),
    "motor": ("stands still", "turns"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A change of state on the way from mild to bad: at which severity, and what it is."""

    severity: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """What one place reads in one phase along a fault's scale, mild to bad, in volts or amps.

    All arrays are (S,) long. `healthy` is what it reads without the fault.
    """

    place: str
    phase: str
    severities: NDArray[np.float64]
    values: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    floating: NDArray[np.bool_]
    chatters: NDArray[np.bool_]
    healthy: Prediction
    turns: tuple[Turn, ...]

    @property
    def departs(self) -> bool:
        """Whether some severity can be told from healthy here."""
        apart = (self.low > self.healthy.high) | (self.high < self.healthy.low)
        return bool(apart.any())

    @property
    def largest_change(self) -> float:
        return float(np.abs(self.values - self.healthy.value).max())


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """The curves of all places in all phases for one fault."""

    scale: SeverityScale
    curves: tuple[Curve, ...]

    def at(self, place: str, phases: Sequence[str] = ()) -> tuple[Curve, ...]:
        """Return the curves of a place, a phase each; `phases` narrows them."""
        return tuple(
            curve
            for curve in self.curves
            if curve.place == place and (not phases or curve.phase in phases)
        )

    @property
    def telling_places(self) -> tuple[str, ...]:
        """Return the places at which the fault can be told from healthy, in their order."""
        return tuple(dict.fromkeys(curve.place for curve in self.curves if curve.departs))


def severity_curves(
    network: Network,
    places: Sequence[Place],
    suspect: Suspect,
    *,
    rig: Rig = AS_IT_STANDS,
    meter: Meter | None = None,
) -> Curves:
    """Return what the places read along the whole scale of a suspect, in every phase.

    Raises
    ------
    BadPlace
        A place or the rig names something that is not in the circuit.
    """
    scale = SeverityScale(suspect)
    sweeper = Sweeper(network, places, (None, suspect), rig=rig, meter=meter)

    def looked_at(severities: Sequence[float]) -> Sweep:
        faults = [Fault(suspect=suspect, severity=severity) for severity in severities]
        return sweeper.sweep(faults)

    severities = scale.along(POINTS_PER_DECADE)
    shown = looked_at(severities)
    for _ in range(FINER_ROUNDS):
        finer = _finer(shown, severities, scale)
        if not finer:
            break
        severities += finer
        order = sorted(range(len(severities)), key=severities.__getitem__, reverse=suspect.is_path)
        shown = shown.joined(looked_at(finer)).taken(order)
        severities = [severities[number] for number in order]
    healthy = sweeper.sweep([None])
    return Curves(scale=scale, curves=tuple(_curves(network, healthy.joined(shown), severities)))


def _finer(shown: Sweep, severities: Sequence[float], scale: SeverityScale) -> list[float]:
    """Return severities between those at which a state changes; not beyond the last number."""
    last = len(severities) - (2 if scale.has_end else 1)
    finer: list[float] = []
    for first in sorted(_gaps(shown)):
        if first < last:
            between = np.geomspace(severities[first], severities[first + 1], FINER_POINTS + 2)
            finer += between[1:-1].tolist()
    return finer


def _gaps(shown: Sweep) -> set[int]:
    """Return the numbers of the severities after which something stands otherwise."""
    gaps: set[int] = set()
    for states in shown.states.values():
        for state in states.values():
            gaps |= set(np.flatnonzero(state.piece[1:] != state.piece[:-1]).tolist())
    chatters = shown.chatters
    gaps |= set(np.flatnonzero((chatters[1:] != chatters[:-1]).any(axis=(1, 2))).tolist())
    return gaps


def _curves(network: Network, shown: Sweep, severities: Sequence[float]) -> Iterator[Curve]:
    """Yield the curves of all places; row 0 of what is shown is healthy."""
    healthy = shown.predictions(0)
    for column, place in enumerate(shown.places):
        for row, phase in enumerate(shown.phases):
            seat = (slice(1, None), row, column)
            curve = Curve(
                place=place,
                phase=phase,
                severities=np.array(severities),
                values=shown.values[seat],
                low=shown.low[seat],
                high=shown.high[seat],
                floating=shown.floating[seat],
                chatters=shown.chatters[seat],
                healthy=healthy[phase, place],
                turns=(),
            )
            yield replace(curve, turns=tuple(_turns(network, curve, shown.states[phase, place])))


def _turns(network: Network, curve: Curve, states: Mapping[str, States]) -> Iterator[Turn]:
    """Yield what changes, in the order of severity; healthy to mildest is a change as well."""
    severities = curve.severities
    chatters = np.concatenate([[curve.healthy.chatters], curve.chatters])
    for number, severity in enumerate(severities.tolist()):
        if chatters[number + 1] != chatters[number]:
            words = "begins to chatter" if chatters[number + 1] else "chatters no more"
            yield Turn(severity=severity, words=words)
        if chatters[number : number + 2].any():
            # Which way its contacts stand while it chatters is a matter of the moment.
            continue
        for name, state in states.items():
            if state.piece[number + 1] == state.piece[number]:
                continue
            if _is_told(network, name, at_the_end=math.isinf(severity)):
                yield Turn(severity=severity, words=_turn_words(network, name, state, number + 1))


def _is_told(network: Network, name: str, *, at_the_end: bool) -> bool:
    """Whether a change of state means something.

    Not where a consumer's volts have all gone, nor which way no current flows in a battery that
    an open has cut off.
    """
    part = next((part for part in network.parts if part.name == name), None)
    return not (isinstance(part, CurrentLoad) or (at_the_end and isinstance(part, Battery)))


def _turn_words(network: Network, name: str, state: States, number: int) -> str:
    if state.remembers:
        return f"{name} {'closes' if state.made[number] else 'opens'}"
    kind = next((part.kind for part in network.parts if part.name == name), "")
    does, piece = _DOES.get(kind, ()), int(state.piece[number])
    return f"{name} {does[piece] if piece < len(does) else 'changes over'}"
