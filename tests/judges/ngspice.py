"""ngspice as an independent judge: circuits written as netlists, solved in batch mode.

Many circuits go into one run, each with node names of its own; they share the zero node and
nothing else. Contacts and pieces stand as they are told to (other judges find where they should
stand), so a circuit of straight parts is linear and exact. Curved loads are behavioural sources
that start from volts given to them.

What is known of the program and heeded here: it ends with status 0 when it found nothing, so only
its raw file counts; it shows 0 V for a place that nothing ties to ground, so such places are left
out; its raw file holds full doubles, where its listing has six digits unless told otherwise.

References
----------
.. [1] ngspice User's Manual, version 39: chapters 11 (analyses in batch mode), 5.1 (behavioural
   sources), 15.3.1 (`.nodeset`) and 15.1.2 (options). Chapter numbers from memory.
"""

import math
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.judges.elements import (
    COLLAPSE_VOLTS,
    FILAMENT_EXPONENT,
    Curved,
    Fan,
    Filament,
    Straight,
    TakesPower,
)
from tests.judges.plain import PlainCircuit

PROGRAM = "ngspice"
# Without stepping up sources or leaks when it fails: it starts from an operating point.
OPTIONS = ".options reltol=1e-7 vntol=1e-9 abstol=1e-12 gminsteps=0 srcsteps=0 itl1=200"
MOST_SECONDS = 120
CIRCUITS_IN_A_RUN = 1000
CURVED_CIRCUITS_IN_A_RUN = 50
# An amount that neither ties a place nor bends a reading: the slope of a fan that stands still.
LEAST_SIEMENS = 1e-13


class NgspiceFoundNothing(Exception):
    """ngspice ended without an operating point; the message holds what it said."""


@dataclass(frozen=True, slots=True)
class Case:
    """A circuit to solve: its pieces, and volts to start from where loads are curved.

    `ammeter` names an element whose amps are wanted, counted from its first end to its second.
    """

    circuit: PlainCircuit
    pieces: Mapping[str, int]
    start_volts: Mapping[str, float] = field(default_factory=dict)
    ammeter: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """Volts of the nodes that a path ties to zero, and the amps through the ammeter."""

    volts: Mapping[str, float]
    amps: float | None = None


def is_there() -> bool:
    return shutil.which(PROGRAM) is not None


def solve_all(cases: Sequence[Case]) -> list[Answer]:
    """Return the answer to each case.

    Raises
    ------
    NgspiceFoundNothing
        A case has no operating point near its start.
    """
    answers: dict[int, Answer] = {}
    straight = [number for number, case in enumerate(cases) if not case.circuit.curved]
    curved = [number for number, case in enumerate(cases) if case.circuit.curved]
    for numbers, most in ((straight, CIRCUITS_IN_A_RUN), (curved, CURVED_CIRCUITS_IN_A_RUN)):
        for begin in range(0, len(numbers), most):
            answers.update(_solve_some(cases, numbers[begin : begin + most]))
    return [answers[number] for number in range(len(cases))]


def _solve_some(cases: Sequence[Case], numbers: Sequence[int]) -> dict[int, Answer]:
    """Solve cases in one run; where that finds nothing, halve them until the culprit stands alone.

    Each run is judged by the hardest of its circuits, so a run may fail though each would pass.
    """
    netlists = {number: _Netlist(f"c{number}", cases[number]) for number in numbers}
    try:
        found = run([line for netlist in netlists.values() for line in netlist.lines()])
    except NgspiceFoundNothing:
        if len(numbers) == 1:
            raise
        half = len(numbers) // 2
        return {
            **_solve_some(cases, numbers[:half]),
            **_solve_some(cases, numbers[half:]),
        }
    return {number: netlist.answer(found) for number, netlist in netlists.items()}


def run(lines: Sequence[str]) -> dict[str, float]:
    """Return the operating point of a netlist, by the names that ngspice gives: v(n1), i(v1)."""
    with tempfile.TemporaryDirectory(prefix="netlist-") as folder:
        deck, raw = Path(folder, "deck.cir"), Path(folder, "point.raw")
        deck.write_text("\n".join(["* circuits", *lines, OPTIONS, ".op", ".end", ""]))
        said = subprocess.run(
            [PROGRAM, "--no-spiceinit", "-b", "-r", str(raw), str(deck)],
            capture_output=True,
            text=True,
            timeout=MOST_SECONDS,
            cwd=folder,
            check=False,
        )
        content = raw.read_bytes() if raw.exists() else b""
    return _operating_point(content, said.stdout + said.stderr)


def _operating_point(content: bytes, said: str) -> dict[str, float]:
    header, marker, values = content.partition(b"Binary:\n")
    text = header.decode("ascii", "replace")
    counted = re.search(r"No\. Variables: (\d+)\s+No\. Points: (\d+)", text)
    if not marker or counted is None or counted[2] != "1":
        raise NgspiceFoundNothing(said[:2000])
    names = [line.split("\t")[2] for line in text.splitlines() if line.startswith("\t")]
    numbers = np.frombuffer(values, dtype=np.float64)
    if len(names) != int(counted[1]) or len(numbers) != len(names):
        raise NgspiceFoundNothing(f"its raw file is cut short: {said[:2000]}")
    return dict(zip(names, numbers.tolist(), strict=True))


class _Netlist:
    """One case as lines of a netlist, every name with a prefix of its own."""

    def __init__(self, prefix: str, case: Case) -> None:
        self.prefix = prefix
        self.case = case
        self.alias = case.circuit.made_one(case.pieces)
        self.tied = {
            self.alias[node] for node in case.circuit.tied_nodes(case.pieces, case.start_volts)
        }
        roots = dict.fromkeys(self.alias.values())
        self.number = {node: index for index, node in enumerate(roots)}

    def node(self, name: str) -> str:
        root = self.alias[name]
        return "0" if root == self.case.circuit.zero else f"{self.prefix}_{self.number[root]}"

    def lines(self) -> Iterator[str]:
        serial = 0
        for element in (*self.case.circuit.straight, *self.case.circuit.curved):
            if self._stands(element.first, element.second):
                serial += 1
                yield from self._element(f"{self.prefix}_{serial}", element)
        for moved in self.case.circuit.moved:
            ohms = moved.ohms(self.case.pieces)
            if self._stands(moved.first, moved.second) and math.isfinite(ohms):
                serial += 1
                first = self._behind_ammeter(moved.name, self.node(moved.first))
                yield from self._ammeter(moved.name, self.node(moved.first), first)
                name = f"{self.prefix}_{serial}"
                yield f"R{name} {first} {self.node(moved.second)} {ohms!r}"
        if self.case.circuit.curved:
            yield from self._start()

    def _start(self) -> Iterator[str]:
        for node, volts in self.case.start_volts.items():
            if self.alias.get(node) in self.tied and self.node(node) != "0":
                yield f".nodeset v({self.node(node)})={volts!r}"

    def _stands(self, first: str, second: str) -> bool:
        """Say whether an element can carry current: both ends tied, and not to one place."""
        one, other = self.alias[first], self.alias[second]
        return one in self.tied and other in self.tied and one != other

    def _behind_ammeter(self, name: str, node: str) -> str:
        return f"{self.prefix}_a" if name == self.case.ammeter else node

    def _ammeter(self, name: str, node: str, behind: str) -> Iterator[str]:
        if name == self.case.ammeter:
            yield f"V{self.prefix}_a {node} {behind} 0"

    def _element(self, name: str, element: Straight | Curved) -> Iterator[str]:
        first = self._behind_ammeter(element.name, self.node(element.first))
        second = self.node(element.second)
        yield from self._ammeter(element.name, self.node(element.first), first)
        if isinstance(element, Straight):
            yield from self._straight(name, element, first, second)
            return
        yield from _curved(name, element, first, second)
        speed = self.case.start_volts
        if isinstance(element, Fan) and element.first in speed and element.second in speed:
            started = element.speed(speed[element.first] - speed[element.second])
            yield f".nodeset v({name}_w)={started!r}"

    def _straight(self, name: str, element: Straight, first: str, second: str) -> Iterator[str]:
        piece = self.case.pieces.get(element.name, 0)
        siemens, amps = element.siemens_of_piece[piece], element.amps_at_zero[piece]
        # Norton's form for sources too: ngspice may lose the row of a source of volts that carries
        # no current, and then shows 0 V behind it.
        if siemens:
            yield f"R{name} {first} {second} {1 / siemens!r}"
        if amps:
            yield f"I{name} {first} {second} {amps!r}"

    def answer(self, found: Mapping[str, float]) -> Answer:
        volts = {}
        for node, root in self.alias.items():
            if root in self.tied:
                name = self.node(node)
                volts[node] = 0.0 if name == "0" else found[f"v({name})"]
        amps = None
        if self.case.ammeter:
            # Without a current path the part was left out, and its current is nought.
            amps = found.get(f"i(v{self.prefix}_a)", 0.0)
        return Answer(volts, amps)


def _curved(name: str, element: Curved, first: str, second: str) -> Iterator[str]:
    across = f"v({first},{second})"
    match element:
        case Filament():
            size = f"max(abs({across}),{element.cold_volts!r})"
            hot = f"{element.rated_amps!r}*({size}/{element.rated_volts!r})^{FILAMENT_EXPONENT}"
            cold = f"{element.cold_siemens!r}*{across}"
            yield (
                f"B{name} {first} {second} "
                f"I=abs({across}) < {element.cold_volts!r} ? {cold} : sgn({across})*{hot}"
            )
        case TakesPower():
            least = f"max({across},{COLLAPSE_VOLTS!r})"
            working = f"min({element.watts!r}/{least},{element.max_amps!r})"
            yield (
                f"B{name} {first} {second} I={across} < {COLLAPSE_VOLTS!r} ? "
                f"{element.collapsed_siemens!r}*{across} : {working}"
            )
        case Fan():
            # The speed is a place of its own, held where winding and torque balance.
            speed = f"v({name}_w)"
            torque = f"{element.winding_ohms * element.rated_amps!r}*{speed}*abs({speed})"
            yield (
                f"B{name}w 0 {name}_w I={element.drive_fraction!r}*max({across},0) "
                f"- {torque} - {element.back_volts!r}*{speed}"
            )
            drawn = element.drive_fraction * element.rated_amps
            yield f"B{name} {first} {second} I={drawn!r}*{speed}*abs({speed})"
            yield f"R{name} {first} {second} {1 / LEAST_SIEMENS!r}"
