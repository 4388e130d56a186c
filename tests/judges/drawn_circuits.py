"""Random circuits of every part kind, drawn the way vehicles are wired.

Batteries alone, in series with a tap or side by side; a generator that comes in with the engine;
feeds through fuses, wires, connectors and splices; switches, module drivers, relays in chains,
rules that watch a pin, starter solenoids; every kind of load; shared grounds; diodes against the
coil's kick and between feeds; sensors, buses and outputs of modules; leaks. Values lie on the
scales of the trade, but some of them are meant to bring a control near its threshold. One seed
draws one circuit.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from circuits.engine import (
    Coil,
    Compound,
    Connector,
    CurrentLoad,
    FanMotor,
    Fault,
    FaultKind,
    KeyState,
    Lamp,
    Leak,
    Motor,
    Network,
    Phase,
    PowerLoad,
    Resistor,
    Suspect,
    suspects,
)
from tests.judges.drawn_modules import ModuleWirer
from tests.judges.plain_faults import Faults


@dataclass(frozen=True, slots=True)
class DrawnCircuit:
    seed: int
    network: Network
    faults: tuple[Faults, ...]


def draw_circuit(seed: int) -> DrawnCircuit:
    """Draw one circuit and a few of its faults, some at their end and some half-way."""
    dice = random.Random(seed)
    network = _with_compound(_CircuitWirer(dice).network(), dice)
    return DrawnCircuit(seed, network, draw_faults(network, dice))


def draw_faults(network: Network, dice: random.Random) -> tuple[Faults, ...]:
    """Draw three single faults, one of them by its kind so that rare ones come, and a pair."""
    listed = suspects(network)
    singles = [*dice.sample(listed, k=2), _by_kind(listed, dice)]
    first = _by_kind(listed, dice)
    others = [each for each in listed if not _touched(each) & _touched(first)]
    alone = tuple((_fault(each, dice),) for each in dict.fromkeys(singles))
    return (*alone, (_fault(first, dice), _fault(dice.choice(others), dice)))


def draw_severity(suspect: Suspect, dice: random.Random) -> float:
    if suspect.kind is FaultKind.RESISTANCE:
        return float("inf") if dice.random() < 0.25 else 10 ** dice.uniform(-2, 4)
    if suspect.is_path:
        return 0.0 if dice.random() < 0.2 else 10 ** dice.uniform(-2, 4)
    if not suspect.graded:
        return suspect.most
    room = suspect.most - suspect.least
    return suspect.least + room * dice.choice([dice.uniform(0, 0.2), dice.random(), 1.0])


def _fault(suspect: Suspect, dice: random.Random) -> Fault:
    return Fault(suspect=suspect, severity=draw_severity(suspect, dice))


def _by_kind(listed: Sequence[Suspect], dice: random.Random) -> Suspect:
    kind = dice.choice(list(dict.fromkeys(each.kind for each in listed)))
    return dice.choice([each for each in listed if each.kind is kind])


def _touched(suspect: Suspect) -> set[str]:
    """Return what a fault is at; two faults of one part would have to be told which comes first."""
    return {suspect.target, *(member.suspect.target for member in suspect.members)}


def _with_compound(network: Network, dice: random.Random) -> Network:
    """Name a fault of two values at once, in every third circuit."""
    if dice.random() > 0.35:
        return network
    listed = [each for each in suspects(network) if not each.members]
    first = dice.choice(listed)
    second = dice.choice([each for each in listed if each.target != first.target])
    faults = tuple((each.id, draw_severity(each, dice)) for each in (first, second))
    compound = Compound(name="N1", words="water in the box", faults=faults)
    return replace(network, compounds=(compound,))


class _CircuitWirer(ModuleWirer):
    """Wires up a whole circuit."""

    def network(self) -> Network:
        self.changes = [{} for _ in range(self.dice.choice([1, 2, 3, 3, 4]))]
        self.volts = 24.0 if self.dice.random() < 0.2 else 12.0
        # Half of the circuits are straight throughout, and so exact.
        self.load_kinds = [Resistor, Resistor, CurrentLoad, Motor, Coil]
        if self.dice.random() < 0.5:
            self.load_kinds += [Lamp, PowerLoad, FanMotor]
        self.hot = self._sources()
        self._body()
        if self.dice.random() < 0.6:
            self._generator()
        feeds = [self.hot]
        for _ in range(self.dice.randint(1, 3)):
            feeds.append(self._feed(self.dice.choice(feeds)))
        self.feeds = feeds
        for _ in range(self.dice.randint(2, 5)):
            self.dice.choice(
                [
                    self._consumer,
                    self._consumer,
                    self._relay,
                    self._relay,
                    self._rule,
                    self._sensor,
                    self._starter,
                    self._diode_between_feeds,
                    self._two_in_series,
                ]
            )()
        for _ in range(self.dice.choice([0, 1, 1, 2])):
            self.module()
        if len(self.changes) > 1 and self.dice.random() < 0.5:
            self._dip()
        for _ in range(self.dice.choice([0, 0, 1, 2])):
            self._leak()
        self._neighbours()
        keys = (KeyState.OFF, KeyState.ON, KeyState.CRANK, KeyState.RUN)
        return Network(
            parts=tuple(self.parts),
            zero="minus",
            body="body",
            supply=self.hot,
            phases=tuple(
                Phase(name=f"phase {number + 1}", key_state=keys[number], changes=changes)
                for number, changes in enumerate(self.changes)
            ),
        )

    def _leak(self) -> None:
        """Damp between two places."""
        nodes = sorted({node for part in self.parts for node in part.ends})
        first, second = self.dice.sample(nodes, k=2)
        self._add(Leak, first, second, ohms=self._ohms(200, 1_000_000))

    def _neighbours(self) -> None:
        """Let two connector pins sit side by side."""
        pins = [part for part in self.parts if isinstance(part, Connector)]
        if len(pins) > 1:
            pin, other = self.dice.sample(pins, k=2)
            self.parts[self.parts.index(pin)] = replace(pin, beside=other.name)
