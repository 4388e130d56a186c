"""Relays, rules, starters and loads of random circuits, with values near their thresholds."""

from collections.abc import Sequence
from dataclasses import replace

from circuits.engine import (
    Coil,
    Contact,
    CurrentLoad,
    Diode,
    FanMotor,
    Lamp,
    Motor,
    Part,
    PowerLoad,
    Resistor,
    RuleContact,
    SenseInput,
    Switch,
)
from tests.judges.drawn_wiring import Wirer


class LoadWirer(Wirer):
    """Wires consumers, and what switches them."""

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
