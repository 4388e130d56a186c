"""Random circuits of every part kind, drawn the way vehicles are wired.

Batteries alone, in series with a tap or side by side; a generator that comes in with the engine;
feeds through fuses, wires, connectors and splices; switches, module drivers, relays in chains,
rules that watch a pin, starter solenoids; every kind of load; shared grounds; diodes against the
coil's kick and between feeds; sensor supplies; leaks. Values lie on the scales of the trade, but
some of them are meant to bring a control near its threshold. One seed draws one circuit.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from circuits.engine import (
    Absent,
    Battery,
    Coil,
    Connector,
    Contact,
    CurrentLoad,
    Diode,
    Driver,
    FanMotor,
    Fault,
    FaultKind,
    Fuse,
    Generator,
    Ground,
    KeyState,
    Lamp,
    Motor,
    Network,
    Part,
    Phase,
    PowerLoad,
    Resistor,
    RuleContact,
    SenseInput,
    Splice,
    Supply,
    Suspect,
    Switch,
    Wire,
    suspects,
)

FAULTS_PER_CIRCUIT = 3
FUSE_AMPS = (3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0)
_Kind = TypeVar("_Kind", bound=Part)
WIRE_MM2 = (0.35, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0)


@dataclass(frozen=True, slots=True)
class DrawnCircuit:
    seed: int
    network: Network
    faults: tuple[Fault, ...]


def draw_circuit(seed: int) -> DrawnCircuit:
    """Draw one circuit and a few of its faults, some at their end and some half-way."""
    dice = random.Random(seed)
    network = _Wirer(dice).network()
    return DrawnCircuit(seed, network, draw_faults(network, dice))


def draw_faults(network: Network, dice: random.Random) -> tuple[Fault, ...]:
    listed = suspects(network)
    chosen = dice.sample(listed, k=min(FAULTS_PER_CIRCUIT, len(listed)))
    return tuple(Fault(suspect=each, severity=draw_severity(each, dice)) for each in chosen)


def draw_severity(suspect: Suspect, dice: random.Random) -> float:
    if suspect.kind is FaultKind.RESISTANCE:
        return float("inf") if dice.random() < 0.25 else 10 ** dice.uniform(-2, 4)
    if suspect.is_path:
        return 0.0 if dice.random() < 0.2 else 10 ** dice.uniform(-2, 4)
    if not suspect.graded:
        return suspect.most
    return suspect.most * dice.choice([dice.uniform(0, 0.2), dice.random(), 1.0])


@dataclass
class _Wirer:
    """Wires a circuit up, part by part."""

    dice: random.Random
    parts: list[Part] = field(default_factory=list)
    #: For each phase the parts that differ in it.
    changes: list[dict[str, Part]] = field(default_factory=list)
    node_count: int = 0
    volts: float = 12.0
    hot: str = ""
    feeds: list[str] = field(default_factory=list)
    grounds: list[str] = field(default_factory=list)
    load_kinds: list[type[Part]] = field(default_factory=list)

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
        if len(self.changes) > 1 and self.dice.random() < 0.5:
            self._dip()
        for _ in range(self.dice.choice([0, 0, 1, 2])):
            self._leak()
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

    # --------------------------------------------------------------------------- helpers

    def _add(self, kind: type[_Kind], first: str, second: str, **values: Any) -> _Kind:
        letter = {"Battery": "B", "Fuse": "F", "Wire": "W", "Contact": "K"}.get(
            kind.__name__, kind.__name__[:3]
        )
        part = kind(name=f"{letter}{len(self.parts) + 1}", first=first, second=second, **values)
        self.parts.append(part)
        return part

    def _node(self) -> str:
        self.node_count += 1
        return f"n{self.node_count}"

    def _ohms(self, low: float, high: float) -> float:
        """Draw on a logarithmic scale, to three digits as values are written."""
        drawn = low * (high / low) ** self.dice.random()
        return float(f"{drawn:.3g}")

    def _between(self, low: float, high: float) -> float:
        return float(f"{self.dice.uniform(low, high):.3g}")

    def _by_phase(self, part: _Kind, change: Callable[[_Kind], _Kind]) -> None:
        """Let a part be otherwise in some phases."""
        for changes in self.changes:
            if self.dice.random() < 0.5:
                changes[part.name] = change(part)

    # --------------------------------------------------------------------------- sources

    def _sources(self) -> str:
        if self.dice.random() < 0.2:
            return self._supply()
        if self.volts == 24.0:
            self._battery("middle", "minus")
            self._battery("plus", "middle")
            if self.dice.random() < 0.5:
                self._add(CurrentLoad, "middle", "minus", amps=self._ohms(0.05, 5))
            return "plus"
        self._battery("plus", "minus")
        if self.dice.random() < 0.3:
            self._second_battery()
        return "plus"

    def _battery(self, plus: str, minus: str) -> None:
        taking = self._ohms(0.01, 0.1) if self.dice.random() < 0.6 else None
        self._add(
            Battery,
            plus,
            minus,
            open_circuit_volts=self._between(11.8, 12.8),
            internal_ohms=self._ohms(0.003, 0.03),
            charging_ohms=taking,
        )

    def _second_battery(self) -> None:
        """Side by side with the first, behind a strap, a diode or a switch."""
        self._battery("second plus", "minus")
        way = self.dice.choice(["wire", "diode", "switch"])
        if way == "wire":
            self._wire("plus", "second plus")
        elif way == "diode":
            self._diode("plus", "second plus")
        else:
            self._switch("plus", "second plus", Switch)

    def _supply(self) -> str:
        part = self._add(
            Supply,
            "plus",
            "minus",
            volts=self._between(11.5, 14.5) * self.volts / 12,
            internal_ohms=self._ohms(0.005, 0.1),
        )
        self._by_phase(part, lambda s: replace(s, volts=self._between(9, 14.5) * self.volts / 12))
        return "plus"

    def _body(self) -> None:
        kind = self.dice.choice([Ground, Wire])
        if kind is Wire:
            self._wire("body", "minus")
        else:
            self._add(Ground, "body", "minus", ohms=self._ohms(0.0005, 0.02))
        self.grounds = ["minus", "body", "body"]
        if self.dice.random() < 0.7:
            shared = self._node()
            self._add(Ground, shared, "body", ohms=self._ohms(0.001, 0.05))
            self.grounds.append(shared)

    def _generator(self) -> None:
        stud = self._node()
        part = self._add(
            Generator,
            stud,
            "body",
            volts=self._between(13.5, 15) * self.volts / 12,
            internal_ohms=self._ohms(0.005, 0.05),
            max_amps=self._between(20, 150),
        )
        self._wire(stud, self.hot)
        for changes in self.changes[:-1]:
            changes[part.name] = Absent(name=part.name, first=part.first, second=part.second)

    # ------------------------------------------------------------------------ conductors

    def _wire(self, first: str, second: str) -> None:
        self._add(
            Wire,
            first,
            second,
            wire_mm2=self.dice.choice(WIRE_MM2),
            metres=self._between(0.2, 6),
            joint_ohms=self.dice.choice([0.0, self._ohms(0.0002, 0.01)]),
            celsius=self.dice.choice([20.0, -20.0, 85.0]),
        )

    def _one_conductor(self, first: str, second: str) -> None:
        kind = self.dice.choice([Wire, Wire, Fuse, Connector, Splice])
        if kind is Wire:
            self._wire(first, second)
        elif kind is Fuse:
            self._add(Fuse, first, second, rated_amps=self.dice.choice(FUSE_AMPS))
        else:
            self._add(kind, first, second, ohms=self._ohms(0.0005, 0.02))

    def _chain(self, start: str, length: int) -> str:
        for _ in range(length):
            end = self._node()
            self._one_conductor(start, end)
            start = end
        return start

    def _feed(self, start: str) -> str:
        fused = self._node()
        self._add(Fuse, start, fused, rated_amps=self.dice.choice(FUSE_AMPS))
        return self._chain(fused, self.dice.randint(0, 1))

    def _ground(self, start: str) -> None:
        """Lead a place to one of the grounds."""
        self._one_conductor(
            self._chain(start, self.dice.choice([0, 0, 1])), self.dice.choice(self.grounds)
        )

    # -------------------------------------------------------------------------- contacts

    def _switch(self, first: str, second: str, kind: type[Switch]) -> None:
        part = self._add(
            kind,
            first,
            second,
            closed_ohms=self._ohms(0.002, 0.5),
            closed=self.dice.random() < 0.7,
        )
        self._by_phase(part, lambda s: replace(s, closed=not s.closed))

    def _switched(self, start: str) -> str:
        end = self._node()
        self._switch(start, end, self.dice.choice([Switch, Driver]))
        return end

    def _coil(self, first: str, second: str) -> Coil:
        coil = self._add(
            Coil,
            first,
            second,
            ohms=self._between(60, 120) * self.volts / 12,
            celsius=self.dice.choice([20.0, 20.0, 80.0, -20.0]),
        )
        if self.dice.random() < 0.3:
            self._add(Diode, second, first, forward_volts=0.7, on_ohms=self._ohms(0.01, 0.5))
        return coil

    def _relay(self) -> None:
        """A relay: its coil fed and grounded somewhere, its contact feeding consumers."""
        feed = self._chain(self._pick_feed(), self.dice.randint(0, 1))
        low = self._node()
        if self.dice.random() < 0.5:
            coil = self._coil(self._switched(feed), low)
            self._ground(low)
        else:
            coil = self._coil(feed, low)
            self._ground(self._switched(low))
        closed_at_rest = self.dice.random() < 0.2
        pull_in = self._between(0.35, 0.75) * self.volts
        contacts = 1 if self.dice.random() < 0.8 else 2
        for number in range(contacts):
            out = self._node()
            self._add(
                Contact,
                self._pick_feed(),
                out,
                coil=coil.name,
                coil_ohms=coil.ohms,
                pull_in_volts=pull_in,
                drop_out_volts=float(f"{pull_in * self.dice.uniform(0.15, 0.7):.3g}"),
                made_ohms=self._ohms(0.002, 0.05),
                # A change-over contact opens one way and closes the other.
                normally_closed=closed_at_rest if number == 0 else not closed_at_rest,
            )
            self._loads(out)
            if self.dice.random() < 0.3:
                self.feeds.append(out)

    def _starter(self) -> None:
        """A solenoid with two windings on one core, and the motor that it feeds."""
        terminal, motor = self._switched(self._pick_feed()), self._node()
        hold_ohms, pull_ohms = self._between(0.8, 2), self._between(0.3, 0.8)
        hold = self._add(Coil, terminal, self.dice.choice(self.grounds), ohms=hold_ohms)
        pull = self._add(Coil, terminal, motor, ohms=pull_ohms)
        pull_in = self._between(4, 8) * self.volts / 12
        self._add(
            Contact,
            self.hot,
            motor,
            coil=hold.name,
            coil_ohms=hold_ohms,
            pull_winding=pull.name,
            pull_winding_ohms=pull_ohms,
            pull_in_volts=pull_in,
            drop_out_volts=float(f"{pull_in * self.dice.uniform(0.2, 0.6):.3g}"),
            made_ohms=self._ohms(0.0005, 0.003),
        )
        self._motor(motor, self.dice.choice(self.grounds), self._between(60, 250))

    def _rule(self) -> None:
        """A module watches a divided feed and moves a driver by it."""
        pin = self._node()
        self._add(Resistor, self._pick_feed(), pin, ohms=self._ohms(500, 20_000))
        ground = self.dice.choice(self.grounds)
        self._add(SenseInput, pin, ground, ohms=self._ohms(500, 50_000))
        if self.dice.random() < 0.4:
            self._switch(pin, ground, Switch)
        middle = self.dice.uniform(0.1, 0.9) * self.volts
        gap = self.dice.uniform(0.1, 0.4 * self.volts)
        closes, opens = (
            (middle + gap, middle) if self.dice.random() < 0.5 else (middle, middle + gap)
        )
        out = self._node()
        part = self._add(
            RuleContact,
            self._pick_feed(),
            out,
            sense_red=pin,
            sense_black=ground,
            closes_volts=float(f"{closes:.3g}"),
            opens_volts=float(f"{opens:.3g}"),
            made_ohms=self._ohms(0.01, 0.3),
        )
        self._by_phase(part, lambda rule: replace(rule, enabled=False))
        self._loads(out)
        if self.dice.random() < 0.3:
            self.feeds.append(out)

    # ----------------------------------------------------------------------------- loads

    def _pick_feed(self) -> str:
        return self.dice.choice(self.feeds)

    def _consumer(self) -> None:
        start = self._chain(self._pick_feed(), self.dice.randint(0, 2))
        if self.dice.random() < 0.5:
            start = self._switched(start)
        self._loads(start)

    def _loads(self, start: str) -> None:
        """Put one load or two side by side, with a ground of their own."""
        low = self._node()
        for _ in range(self.dice.choice([1, 1, 2])):
            self._load(start, low, self.load_kinds)
        if self.dice.random() < 0.2:
            low = self._switched(low)
        self._ground(low)

    def _load(self, first: str, second: str, kinds: Sequence[type[Part]]) -> None:
        watts = self._ohms(2, 120)
        amps = watts / self.volts
        kind = self.dice.choice(kinds)
        if kind is Resistor:
            self._add(Resistor, first, second, ohms=float(f"{self.volts / amps:.3g}"))
        elif kind is CurrentLoad:
            consumer = self._add(CurrentLoad, first, second, amps=float(f"{amps:.3g}"))
            self._by_phase(consumer, lambda c: replace(c, amps=self._ohms(0.005, 10)))
        elif kind is Motor:
            self._motor(first, second, float(f"{amps:.3g}"))
        elif kind is Lamp:
            self._add(Lamp, first, second, rated_watts=watts, rated_volts=self.volts)
        elif kind is PowerLoad:
            most = float(f"{amps * self.dice.uniform(1.2, 3):.3g}")
            load = self._add(PowerLoad, first, second, watts=watts, max_amps=most)
            self._by_phase(load, lambda p: replace(p, watts=self._ohms(0.05, watts)))
        elif kind is FanMotor:
            self._fan(first, second, amps)
        else:
            self._coil(first, second)

    def _motor(self, first: str, second: str, amps: float) -> None:
        stalled = self.volts / amps * self.dice.uniform(0.1, 0.3)
        self._add(
            Motor,
            first,
            second,
            base_amps=float(f"{amps * self.dice.uniform(0.3, 0.8):.3g}"),
            amps_per_volt=float(f"{amps / self.volts * self.dice.uniform(0.1, 0.6):.3g}"),
            stalled_ohms=float(f"{stalled:.3g}"),
        )

    def _fan(self, first: str, second: str, amps: float) -> None:
        part = self._add(
            FanMotor,
            first,
            second,
            winding_ohms=float(f"{self.volts / amps * self.dice.uniform(0.05, 0.2):.3g}"),
            back_volts=float(f"{self.volts * self.dice.uniform(0.7, 0.95):.3g}"),
            rated_amps=float(f"{amps:.3g}"),
            drive_fraction=self._between(0.3, 1),
        )
        self._by_phase(part, lambda f: replace(f, drive_fraction=self.dice.choice([0.0, 0.5, 0.9])))

    def _two_in_series(self) -> None:
        """A lamp, winding or resistor before another load, as a tell-tale or a dropping resistor.

        Two loads of electronics are not put in series: they starve each other in several ways.
        """
        middle, low = self._node(), self._node()
        calm = [kind for kind in self.load_kinds if kind in (Resistor, Lamp, Coil)]
        self._load(self._chain(self._pick_feed(), 1), middle, calm)
        self._load(middle, low, self.load_kinds)
        self._ground(low)

    def _sensor(self) -> None:
        """A module's sensor supply with a divider on it and an input that reads the middle."""
        module_ground, five, middle = self._node(), self._node(), self._node()
        self._ground(module_ground)
        self._add(
            Generator,
            five,
            module_ground,
            volts=5.0,
            internal_ohms=self._ohms(0.05, 2),
            max_amps=self._between(0.02, 0.2),
        )
        self._add(Resistor, five, middle, ohms=self._ohms(200, 10_000))
        self._add(Resistor, middle, module_ground, ohms=self._ohms(200, 10_000))
        self._add(SenseInput, middle, module_ground, ohms=self._ohms(20_000, 1_000_000))

    def _diode(self, first: str, second: str) -> None:
        self._add(
            Diode,
            first,
            second,
            forward_volts=self._between(0.3, 0.9),
            on_ohms=self._ohms(0.01, 0.5),
        )

    def _diode_between_feeds(self) -> None:
        start, end = self._switched(self._pick_feed()), self._node()
        self._diode(start, end)
        self._loads(end)
        other = self._switched(self._pick_feed())
        if self.dice.random() < 0.5:
            self._diode(other, end)

    def _dip(self) -> None:
        """A heavy load in one phase: what had pulled in before holds on, and would not pull in."""
        heavy = self._node()
        drawn = self._add(Switch, self.hot, heavy, closed_ohms=0.001, closed=False)
        self._add(Resistor, heavy, "minus", ohms=self._ohms(0.005, 0.05))
        self.dice.choice(self.changes[1:])[drawn.name] = replace(drawn, closed=True)

    def _leak(self) -> None:
        """Damp between two places."""
        nodes = sorted({node for part in self.parts for node in (part.first, part.second)})
        first, second = self.dice.sample(nodes, k=2)
        self._add(Resistor, first, second, ohms=self._ohms(200, 1_000_000))


def fresh_circuits(first_seed: int, count: int) -> Iterator[DrawnCircuit]:
    for seed in range(first_seed, first_seed + count):
        yield draw_circuit(seed)
