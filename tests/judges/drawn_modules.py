"""Modules of random circuits: sensors on their supply, buses at rest, outputs, clamps."""

from collections.abc import Callable
from dataclasses import replace

from circuits.engine import (
    BetaCurve,
    CanNode,
    Clamp,
    Driver,
    DutyDriver,
    Generator,
    LinNode,
    PlatinumCurve,
    Potentiometer,
    Resistor,
    Selector,
    SenseInput,
    SteinhartHartCurve,
    TableCurve,
    ThermalCurve,
    Thermistor,
    ThreeWireSensor,
)
from tests.judges.drawn_loads import LoadWirer

# NTC points of a common coolant sensor and a PTC; values from memory.
NTC_POINTS = ((-20.0, 15_000.0), (0.0, 5800.0), (25.0, 2050.0), (80.0, 320.0), (120.0, 112.0))
PTC_POINTS = ((-40.0, 600.0), (25.0, 1000.0), (130.0, 1800.0))


class ModuleWirer(LoadWirer):
    """Wires what hangs on a module."""

    def module(self) -> None:
        wire: list[Callable[[], None]] = [
            self._sensors,
            self._temperature,
            self._can,
            self._lin,
            self._duty,
            self._blower,
            self._ladder,
            self._clamped,
        ]
        self.dice.choice(wire)()

    def _module_ground(self) -> str:
        ground = self._node()
        self._ground(ground)
        return ground

    def _five_volts(self, ground: str) -> str:
        five = self._node()
        self._add(
            Generator,
            five,
            ground,
            volts=5.0,
            internal_ohms=self._ohms(0.05, 2),
            max_amps=self._between(0.02, 0.2),
        )
        return five

    def _input(self, pin: str, ground: str) -> None:
        self._add(SenseInput, pin, ground, ohms=self._ohms(20_000, 1_000_000))

    def _sensor(self) -> None:
        """A module's sensor supply with a divider on it and an input that reads the middle."""
        ground, middle = self._module_ground(), self._node()
        five = self._five_volts(ground)
        self._add(Resistor, five, middle, ohms=self._ohms(200, 10_000))
        self._add(Resistor, middle, ground, ohms=self._ohms(200, 10_000))
        self._input(middle, ground)

    def _sensors(self) -> None:
        """A potentiometer, a three-wire sensor or both on one supply."""
        ground = self._module_ground()
        five = self._five_volts(ground)
        for kind in self.dice.choice(
            [(Potentiometer,), (ThreeWireSensor,), (Potentiometer, ThreeWireSensor)]
        ):
            signal = self._node()
            # Ends of the track now and then: there the wiper stands at its supply or ground.
            position = self.dice.choice([0.0, 1.0, *(self._between(0.05, 0.95) for _ in range(4))])
            values = {"wiper_ohms": self.dice.choice([0.0, self._ohms(10, 3000)])}
            if kind is ThreeWireSensor:
                values["supply_amps"] = self.dice.choice([0.0, self._ohms(0.002, 0.02)])
            part = self._add(
                kind,
                five,
                ground,
                third=signal,
                track_ohms=self._ohms(1000, 10_000),
                position_fraction=position,
                **values,
            )
            self._by_phase(
                part, lambda each: replace(each, position_fraction=self._between(0.05, 0.95))
            )
            if self.dice.random() < 0.8:
                self._input(signal, ground)

    def _temperature(self) -> None:
        """A thermistor below a pull-up."""
        ground, signal = self._module_ground(), self._node()
        self._add(Resistor, self._five_volts(ground), signal, ohms=self._ohms(500, 5000))
        celsius = [self._between(-15, 115) for _ in range(2)]
        curves: list[ThermalCurve] = [
            BetaCurve(nominal_ohms=self._ohms(1000, 10_000), beta_kelvin=self._between(3300, 4100)),
            TableCurve(NTC_POINTS),
            TableCurve(PTC_POINTS),
            SteinhartHartCurve((NTC_POINTS[1], NTC_POINTS[2], NTC_POINTS[4])),
            PlatinumCurve(self.dice.choice([100.0, 1000.0])),
        ]
        part = self._add(
            Thermistor, signal, ground, curve=self.dice.choice(curves), celsius=celsius[0]
        )
        self._by_phase(part, lambda each: replace(each, celsius=celsius[1]))
        self._input(signal, ground)

    def _can(self) -> None:
        """Two or three nodes, terminated at both ends, awake or asleep."""
        lines = [(self._node(), self._node()) for _ in range(2)]
        for first, second in zip(*lines, strict=True):
            self._wire(first, second)
        for high, low in lines:
            self._add(Resistor, high, low, ohms=120.0)
        for high, low in (*lines, *lines[: self.dice.choice([0, 1])]):
            node = self._add(
                CanNode,
                high,
                low,
                third=self._module_ground(),
                input_ohms=self._ohms(6000, 50_000),
                bias_volts=self._between(2.3, 2.7),
            )
            self._by_phase(node, lambda each: replace(each, bias_volts=0.0))

    def _lin(self) -> None:
        """A commander, one or two responders, and an output that pulls the line down."""
        line, ground = self._node(), self._module_ground()
        self._add(LinNode, self._pick_feed(), line, ohms=1000.0)
        for _ in range(self.dice.choice([1, 2])):
            pull_up = self._ohms(20_000, 60_000)
            self._add(LinNode, self._pick_feed(), line, ohms=pull_up, forward_volts=0.6)
        self._switch(line, ground, Driver)
        self._input(line, ground)

    def _duty(self) -> None:
        """A command line that is pulled up, and an output that pulls it down by duty."""
        line, ground, pull_up = self._node(), self._module_ground(), self._ohms(200, 5000)
        self._add(Resistor, self._pick_feed(), line, ohms=pull_up)
        part = self._add(
            DutyDriver,
            line,
            ground,
            closed_ohms=self._ohms(0.05, 50),
            against_ohms=pull_up,
            duty_fraction=self._between(0.05, 0.95),
        )
        self._by_phase(
            part, lambda each: replace(each, duty_fraction=self.dice.choice([0.0, 0.3, 1.0]))
        )
        if self.dice.random() < 0.5:
            self._input(line, ground)

    def _blower(self) -> None:
        """A motor behind a pack of resistors."""
        middle, low = self._node(), self._node()
        steps = (self._ohms(2, 6), self._ohms(0.6, 2), self._ohms(0.02, 0.6), float("inf"))
        self._selector(self._pick_feed(), middle, steps)
        self._motor(middle, low, self._between(5, 25))
        self._ground(low)

    def _ladder(self) -> None:
        """Buttons on one wire, told by their ohms."""
        ground, pin = self._module_ground(), self._node()
        self._add(Resistor, self._five_volts(ground), pin, ohms=self._ohms(500, 5000))
        self._selector(pin, ground, (float("inf"), *(self._ohms(20, 10_000) for _ in range(3))))
        self._input(pin, ground)

    def _selector(self, first: str, second: str, steps: tuple[float, ...]) -> None:
        part = self._add(
            Selector, first, second, step_ohms=steps, position=self.dice.randint(1, len(steps))
        )
        self._by_phase(part, lambda s: replace(s, position=self.dice.randint(1, len(steps))))

    def _clamped(self) -> None:
        """A pin that a clamp holds, now below its volts and now above; or a feed against surges."""
        ground = self._module_ground()
        clamped, clamp_volts = self._pick_feed(), self._between(1.8, 2.4) * self.volts
        if self.dice.random() < 0.7:
            pin = self._node()
            self._add(Resistor, clamped, pin, ohms=self._ohms(20, 5000))
            clamped, clamp_volts = pin, self._between(0.2, 1.3) * self.volts
            self._input(pin, ground)
        self._add(
            Clamp,
            ground,
            clamped,
            clamp_volts=float(f"{clamp_volts:.3g}"),
            on_ohms=self._ohms(0.1, 20),
        )
