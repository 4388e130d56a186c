"""What random circuits are wired with: sources, conductors, switches, grounds.

Values lie on the scales of the trade, drawn on a logarithmic scale and written as values are.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from circuits.engine import (
    Absent,
    Battery,
    Connector,
    CurrentLoad,
    Diode,
    Driver,
    Fuse,
    Generator,
    Ground,
    Part,
    Splice,
    Supply,
    Switch,
    Wire,
)

FUSE_AMPS = (3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0)
WIRE_MM2 = (0.35, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0)
_Kind = TypeVar("_Kind", bound=Part)


@dataclass
class Wirer:
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
            lost_charge_fraction=self.dice.choice([0.0, 0.0, self._between(0, 0.7)]),
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
            fallback_volts=self._between(13.2, 13.8) * self.volts / 12,
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

    def _diode(self, first: str, second: str) -> None:
        self._add(
            Diode,
            first,
            second,
            forward_volts=self._between(0.3, 0.9),
            on_ohms=self._ohms(0.01, 0.5),
        )

    def _pick_feed(self) -> str:
        return self.dice.choice(self.feeds)
