"""Three hundred random circuits with the judges' answers, stored so that they can judge alone.

    python -m tests.judges.corpus

draws them anew (the same ones, from their seeds) and lets ngspice solve them and the slow solver
say where their contacts rest; both answers go into `tests/data/ngspice_corpus.json.gz`. It stores
nothing unless every circuit could be judged. Run it when a part kind has come in or a law has
changed, and look at what it says of the engine before the file is taken over.
"""

import dataclasses
import gzip
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from circuits.engine import (
    KINDS,
    Absent,
    Fault,
    KeyState,
    Network,
    Part,
    Phase,
    find_suspect,
)
from tests.judges import ngspice
from tests.judges.drawn_circuits import DrawnCircuit, draw_circuit
from tests.judges.plain import PlainCircuit, TakesPower, plain_circuit
from tests.judges.settling import Rest, come_to_rest
from tests.judges.standing import Standing, Standings

STORED = Path(__file__).parent.parent / "data" / "ngspice_corpus.json.gz"
CIRCUITS = 300
# Far finer than the closest comparison, and short in the file.
DECIMALS = 9
# A watched quantity this near its threshold, as a share of it, may fall on either side.
TOO_NEAR = 1e-6

Raw = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Judged:
    """What the judges say of one circuit with one fault in one phase.

    `passed` are the contacts by the slow solver, `volts` those of ngspice with the contacts there;
    of a circuit that chatters only that is kept.
    """

    fault: Fault | None
    phase: str
    passed: Mapping[str, int]
    chatters: bool
    curved: bool
    volts: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class JudgedCircuit:
    seed: int
    network: Network
    judged: tuple[Judged, ...]

    @property
    def faults(self) -> tuple[Fault | None, ...]:
        return tuple(dict.fromkeys(each.fault for each in self.judged))


class Undecided(Exception):
    """The engine and the slow solver part ways on a circuit that was to be stored."""


# ---------------------------------------------------------------------------------- judging


@dataclass(frozen=True, slots=True)
class Followed:
    """One phase of a circuit under a fault, as engine and slow solver have followed it there."""

    fault: Fault | None
    phase: Phase
    circuit: PlainCircuit
    standing: Standing
    rest: Rest

    @property
    def states_agree(self) -> bool:
        if self.standing.chatters or self.rest.chatters:
            return self.standing.chatters == self.rest.chatters
        ours = {name: self.standing.pieces[name] for name in self.rest.passed}
        return ours == self.rest.passed

    @property
    def may_rest_in_several_ways(self) -> bool:
        """Whether a load takes a power: then there may be several working points, each right."""
        return any(isinstance(element, TakesPower) for element in self.circuit.curved)

    def __str__(self) -> str:
        return f"{self.fault or 'healthy'} in '{self.phase.name}'"


def follow(drawn: DrawnCircuit) -> Iterator[tuple[Followed, ngspice.Case]]:
    """Take a circuit and its faults through the phases, engine and slow solver side by side.

    A fault's phases end with the first in which contacts go round, or come so near a threshold
    that both sides of it are right: what follows would hang on that.
    """
    faults = (None, *drawn.faults)
    standings = Standings(drawn.network, faults)
    for number, fault in enumerate(faults):
        before: Mapping[str, int] = {}
        for phase in drawn.network.phases:
            circuit = plain_circuit(drawn.network, phase, fault)
            rest = come_to_rest(circuit, before)
            if rest.margin < TOO_NEAR or rest.undefined:
                break
            standing = standings.standing(number, phase.name)
            yield (
                Followed(fault, phase, circuit, standing, rest),
                standings.case(number, phase.name),
            )
            if rest.chatters or standing.chatters:
                break
            before = rest.passed


def judge_circuits(drawn: Sequence[DrawnCircuit]) -> Iterator[JudgedCircuit]:
    """Yield the circuits with what ngspice and the slow solver say of them.

    Raises
    ------
    Undecided
        The engine lets a contact rest elsewhere than the slow solver.
    """
    followed = [list(follow(circuit)) for circuit in drawn]
    cases = [case for pairs in followed for _, case in pairs]
    answers = iter(ngspice.solve_all(cases))
    for circuit, pairs in zip(drawn, followed, strict=True):
        judged = []
        for each, case in pairs:
            volts = next(answers).volts
            if not each.states_agree:
                raise Undecided(f"circuit of seed {circuit.seed}, {each}")
            judged.append(
                Judged(
                    fault=each.fault,
                    phase=each.phase.name,
                    passed=dict(each.rest.passed),
                    chatters=each.rest.chatters,
                    curved=bool(case.circuit.curved),
                    volts={
                        node: round(value, DECIMALS)
                        for node, value in volts.items()
                        if node in circuit.network.nodes and not each.rest.chatters
                    },
                )
            )
        yield JudgedCircuit(circuit.seed, circuit.network, tuple(judged))


# ---------------------------------------------------------------------------------- storing


def _raw_part(part: Part) -> Raw:
    values = {
        each.name: getattr(part, each.name)
        for each in dataclasses.fields(part)
        if each.default is dataclasses.MISSING or getattr(part, each.name) != each.default
    }
    return {"kind": part.kind, **values}


def _part(raw: Raw) -> Part:
    kinds: dict[str, type[Part]] = {**KINDS, Absent.kind: Absent}
    return kinds[raw["kind"]](**{name: value for name, value in raw.items() if name != "kind"})


def _raw_circuit(circuit: JudgedCircuit) -> Raw:
    network = circuit.network
    return {
        "seed": circuit.seed,
        "zero": network.zero,
        "body": network.body,
        "supply": network.supply,
        "parts": [_raw_part(part) for part in network.parts],
        "phases": [
            {
                "name": phase.name,
                "key_state": str(phase.key_state),
                "changes": [_raw_part(part) for part in phase.changes.values()],
            }
            for phase in network.phases
        ],
        "judged": [
            {
                "suspect": each.fault.suspect.id if each.fault is not None else None,
                # Every number of JSON is finite: an open is written as such.
                "severity": None
                if each.fault is None
                else "open"
                if each.fault.severity == float("inf")
                else each.fault.severity,
                "phase": each.phase,
                "passed": each.passed,
                "chatters": each.chatters,
                "curved": each.curved,
                "volts": each.volts,
            }
            for each in circuit.judged
        ],
    }


def _circuit(raw: Raw) -> JudgedCircuit:
    phases = tuple(
        Phase(
            name=phase["name"],
            key_state=KeyState(phase["key_state"]),
            changes={part["name"]: _part(part) for part in phase["changes"]},
        )
        for phase in raw["phases"]
    )
    network = Network(
        parts=tuple(_part(part) for part in raw["parts"]),
        phases=phases,
        zero=raw["zero"],
        body=raw["body"],
        supply=raw["supply"],
    )
    return JudgedCircuit(
        seed=raw["seed"],
        network=network,
        judged=tuple(
            Judged(
                fault=_fault(network, each),
                phase=each["phase"],
                passed=each["passed"],
                chatters=each["chatters"],
                curved=each["curved"],
                volts=each["volts"],
            )
            for each in raw["judged"]
        ),
    )


def _fault(network: Network, raw: Raw) -> Fault | None:
    if raw["suspect"] is None:
        return None
    severity = float("inf") if raw["severity"] == "open" else raw["severity"]
    return Fault(suspect=find_suspect(network, raw["suspect"]), severity=severity)


@cache
def stored_circuits() -> tuple[JudgedCircuit, ...]:
    raw = json.loads(gzip.decompress(STORED.read_bytes()))
    return tuple(_circuit(each) for each in raw)


def store(circuits: Sequence[JudgedCircuit]) -> None:
    text = json.dumps([_raw_circuit(circuit) for circuit in circuits], separators=(",", ":"))
    # Without a time stamp the same circuits make the same file.
    STORED.write_bytes(gzip.compress(text.encode(), mtime=0))


def main() -> None:
    circuits = tuple(judge_circuits([draw_circuit(seed) for seed in range(CIRCUITS)]))
    store(circuits)
    judged = sum(len(circuit.judged) for circuit in circuits)
    sys.stdout.write(f"{len(circuits)} circuits, {judged} answers in {STORED}\n")


if __name__ == "__main__":
    main()
