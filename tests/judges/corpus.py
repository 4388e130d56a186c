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
    BetaCurve,
    Compound,
    Fault,
    KeyState,
    Network,
    Part,
    Phase,
    PlatinumCurve,
    SteinhartHartCurve,
    TableCurve,
    suspects,
)
from tests.judges import ngspice
from tests.judges.drawn_circuits import DrawnCircuit, draw_circuit
from tests.judges.elements import TakesPower
from tests.judges.plain import PlainCircuit, plain_circuit
from tests.judges.plain_faults import Faults, said
from tests.judges.settling import Rest, come_to_rest
from tests.judges.standing import Standing, Standings

STORED = Path(__file__).parent.parent / "data" / "ngspice_corpus.json.gz"
CIRCUITS = 300
# Far finer than the closest comparison, and short in the file.
DECIMALS = 9
# A watched quantity this near its threshold, as a share of it, may fall on either side.
TOO_NEAR = 1e-6
CURVES = (BetaCurve, PlatinumCurve, SteinhartHartCurve, TableCurve)

Raw = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Judged:
    """What the judges say of one circuit with some faults in one phase.

    `passed` are the contacts by the slow solver, `volts` those of ngspice with the contacts there;
    of a circuit that chatters only that is kept.
    """

    faults: Faults
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
    def at_once(self) -> tuple[Faults, ...]:
        return tuple(dict.fromkeys(each.faults for each in self.judged))


class Undecided(Exception):
    """The engine and the slow solver part ways on a circuit that was to be stored."""


# ---------------------------------------------------------------------------------- judging


@dataclass(frozen=True, slots=True)
class Followed:
    """One phase of a circuit under faults, as engine and slow solver have followed it there."""

    faults: Faults
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
        return f"{said(self.faults)} in '{self.phase.name}'"


def follow(drawn: DrawnCircuit) -> Iterator[tuple[Followed, ngspice.Case]]:
    """Take a circuit and its faults through the phases, engine and slow solver side by side.

    A fault's phases end with the first in which contacts go round, or come so near a threshold
    that both sides of it are right: what follows would hang on that.
    """
    at_once = ((), *drawn.faults)
    standings = Standings(drawn.network, at_once)
    for number, faults in enumerate(at_once):
        before: Mapping[str, int] = {}
        for phase in drawn.network.phases:
            circuit = plain_circuit(drawn.network, phase, faults)
            rest = come_to_rest(circuit, before)
            if rest.margin < TOO_NEAR or rest.undefined:
                break
            standing = standings.standing(number, phase.name)
            yield (
                Followed(faults, phase, circuit, standing, rest),
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
                    faults=each.faults,
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


def _raw_value(value: Any) -> Any:
    """Return a value as JSON has it: every number of JSON is finite, so an open is written out."""
    if isinstance(value, CURVES):
        return {"curve": type(value).__name__, **_raw_fields(value)}
    if isinstance(value, tuple):
        return [_raw_value(each) for each in value]
    return "open" if value == float("inf") else value


def _value(raw: Any) -> Any:
    if isinstance(raw, dict):
        curves = {curve.__name__: curve for curve in CURVES}
        values = {name: _value(value) for name, value in raw.items() if name != "curve"}
        return curves[raw["curve"]](**values)
    if isinstance(raw, list):
        return tuple(_value(each) for each in raw)
    return float("inf") if raw == "open" else raw


def _raw_part(part: Part) -> Raw:
    return {"kind": part.kind, **_raw_fields(part)}


def _raw_fields(valued: Any) -> Raw:
    """Return the values of a part or curve that are not the usual ones."""
    return {
        each.name: _raw_value(getattr(valued, each.name))
        for each in dataclasses.fields(valued)
        if each.default is dataclasses.MISSING or getattr(valued, each.name) != each.default
    }


def _part(raw: Raw) -> Part:
    kinds: dict[str, type[Part]] = {**KINDS, Absent.kind: Absent}
    values = {name: _value(value) for name, value in raw.items() if name != "kind"}
    return kinds[raw["kind"]](**values)


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
        "compounds": [
            {
                "name": each.name,
                "words": each.words,
                "faults": [[suspect, _raw_value(severity)] for suspect, severity in each.faults],
            }
            for each in network.compounds
        ],
        "judged": [
            {
                "faults": [[f.suspect.id, _raw_value(f.severity)] for f in each.faults],
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
        compounds=tuple(
            Compound(
                name=each["name"],
                words=each["words"],
                faults=tuple((suspect, _value(severity)) for suspect, severity in each["faults"]),
            )
            for each in raw["compounds"]
        ),
    )
    by_suspect_id = {suspect.id: suspect for suspect in suspects(network)}

    def by_id(suspect_id: str, severity: float | str) -> Fault:
        return Fault(suspect=by_suspect_id[suspect_id], severity=_value(severity))

    return JudgedCircuit(
        seed=raw["seed"],
        network=network,
        judged=tuple(
            Judged(
                faults=tuple(by_id(*fault) for fault in each["faults"]),
                phase=each["phase"],
                passed=each["passed"],
                chatters=each["chatters"],
                curved=each["curved"],
                volts=each["volts"],
            )
            for each in raw["judged"]
        ),
    )


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
