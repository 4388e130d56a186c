"""What a bus is at rest: the bias of CAN nodes, the pull-ups of LIN nodes.

The terminations of a CAN bus are plain resistors of 120 Ohm at its two ends.

References
----------
.. [1] ISO 11898-2: recessive 2.0 to 3.0 V on both lines without load, 2.5 V as a rule; 120 Ohm at
   each end. Input ohms of one line 6 to 50 kOhm: value from memory; some 25 kOhm is usual.
.. [2] ISO 17987-4: pull-up of 1 kOhm in the commander and 30 kOhm (20 to 60) in a responder, each
   in series with a diode from the node's supply.
"""

from dataclasses import dataclass

from circuits.engine.laws import OPEN, Branch, Control, Law
from circuits.engine.parts.part import (
    LOAD_TOLERANCE,
    STILL,
    Part,
    ThreeEnded,
    wobble,
)

# 2.0 to 3.0 V is allowed; nodes that work lie well inside. Common practice, no source.
BIAS_VOLTS_TOLERANCE = 0.2
# Input ohms differ from chip to chip far more than resistors do, see [1].
INPUT_TOLERANCE = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class CanNode(ThreeEnded):
    """A CAN transceiver at rest: each line hangs by `input_ohms` on the node's bias volts.

    Ends: high line, low line, the module's ground. Awake and recessive the bias is half of the
    5 V supply, asleep it is 0 V; a phase sets it. What is sent is not drawn: while the bus talks,
    a meter shows an average that depends on the traffic.
    """

    kind = "can"
    words = "CAN node"
    can_be_bypassed = True
    bypass_words = "with its two lines shorted"

    input_ohms: float
    bias_volts: float = 2.5
    volts_tolerance: float = BIAS_VOLTS_TOLERANCE
    tolerance_fraction: float = INPUT_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(input_ohms=self.input_ohms)
        self.refuse_below_zero(bias_volts=self.bias_volts)
        self.refuse_high_volts(self.bias_volts)

    def branches(self) -> tuple[Branch, ...]:
        return (self._line(self.name, self.first), self._line(f"{self.name}.low", self.second))

    def _line(self, name: str, pin: str) -> Branch:
        # Asleep the lines are tied to ground, which knows no tolerance.
        moved_volts = self.volts_tolerance if self.bias_volts else 0.0
        return Branch(
            name=name,
            first=pin,
            second=self.third,
            pieces=(Law(1.0, self.input_ohms, self.bias_volts),),
            wobbles=(
                wobble("volts", Law(0.0, 0.0, moved_volts)),
                wobble("ohms", Law(0.0, self.tolerance_fraction * self.input_ohms, 0.0)),
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LinNode(Part):
    """The pull-up of a LIN node: ohms and a diode from the node's supply to the line.

    Ends: the node's supply, the line. At rest the line stands a diode's volts below the supply;
    what pulls it low is a driver of its own.
    """

    kind = "lin"
    words = "LIN pull-up"
    can_be_bypassed = True

    ohms: float
    forward_volts: float = 0.7
    tolerance_fraction: float = LOAD_TOLERANCE

    def __post_init__(self) -> None:
        self.refuse_below_or_at_zero(ohms=self.ohms, forward_volts=self.forward_volts)

    def branches(self) -> tuple[Branch, ...]:
        fraction = self.tolerance_fraction
        return self.branch(
            OPEN,
            Law(1.0, self.ohms, self.forward_volts),
            control=Control.across(self.first, self.second, self.forward_volts),
            wobbles=(
                wobble("volts", STILL, Law(0.0, 0.0, fraction * self.forward_volts)),
                wobble("ohms", STILL, Law(0.0, fraction * self.ohms, 0.0)),
            ),
        )
