"""Codes as evidence: under which suspects is each code of a case set, and what do several share.

Each suspect is tried at the severities that the readings leave it, and the readings' supply is the
circuit's.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from cases.circuit import CaseCircuit
from cases.documents.cases import CodeFacts
from cases.documents.codes import CodeEvidence, CodeSet, SetWord, SharedByCodes
from cases.documents.verdicts import FindingDocument, VerdictDocument
from cases.models.choices import HEALTHY, CodeStatus
from circuits.codes.conditions import code_entry, monitor_of
from circuits.codes.failure_modes import failure_of
from circuits.codes.failure_types import FailureType
from circuits.codes.sets import SharedThing, pins_of_code, shared_by
from circuits.engine import (
    CodeChances,
    Fault,
    FaultKind,
    Network,
    Suspect,
    ToldCode,
    code_chances,
    is_of_kind,
)
from circuits.sheet import CodeEntry, condition_words

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]
SETS: Final = "sets it"
MAY_SET: Final = "may set it"
DOES_NOT_SET: Final = "does not set it"
#: How often a code that stands so says nothing of the fault: it was left by an earlier repair or a
#: flat battery, or something else set it. Common practice, no source.
DOUBTS: Mapping[str, float] = MappingProxyType(
    {CodeStatus.PRESENT.value: 0.02, CodeStatus.PENDING.value: 0.1, CodeStatus.STORED.value: 0.2}
)
UNNOTED_DOUBT = 0.1
#: How often a monitor is noted to have run that has not. Common practice, no source.
PASSED_DOUBT = 0.05
# From here on it is said without an if.
SURE = 0.995
#: As likely as not, which is enough for one fault to answer for several codes.
LIKELY = 0.5
# Suspects that the readings exclude are tried at an end and every decade.
POINTS_FITTING, POINTS_EXCLUDED = 2, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class CodesTold:
    """What a case tells of codes: those that are set, and those whose monitor ran and passed."""

    seen: tuple[CodeFacts, ...] = ()
    passed: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.seen or self.passed)


NO_CODES = CodesTold()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One code with its entry on the sheet and what its failure type means."""

    code: str
    entry: CodeEntry | None
    is_set: bool
    module: str = ""
    status: str = ""
    byte: str = ""

    @property
    def failure(self) -> FailureType | None:
        return failure_of(self.code, self.byte)

    @property
    def silent(self) -> str:
        """Why the code is no evidence in this circuit; empty where it is."""
        if self.entry is None:
            return "it is not on this circuit's sheet, which does not say when it sets"
        if not self.entry.conditions:
            return f"it cannot be tested here: {self.entry.not_testable}"
        return ""


def told_codes(circuit: CaseCircuit, told: CodesTold) -> tuple[ToldCode, ...]:
    """Return the codes of a case as the ranking takes them."""
    found = []
    for each in _told(circuit, told):
        failure = each.failure
        found.append(
            ToldCode(
                monitor=monitor_of(circuit.sheet, each.entry) if each.entry is not None else None,
                is_set=each.is_set,
                doubt=DOUBTS.get(each.status, UNNOTED_DOUBT) if each.is_set else PASSED_DOUBT,
                # A byte behind a code that the sheet does not have is about another circuit.
                kinds=failure.kinds if failure and each.entry is not None else frozenset(),
            )
        )
    return tuple(found)


def any_speaks(circuit: CaseCircuit, told: CodesTold) -> bool:
    """Return whether a code of the case can be tested in its circuit."""
    return any(not each.silent for each in _told(circuit, told))


def code_evidence(
    circuit: CaseCircuit,
    told: CodesTold,
    network: Network,
    findings: Sequence[FindingDocument],
    claim: str,
) -> tuple[tuple[CodeEvidence, ...], CodeSet | None]:
    """Return what each code says of the suspects, and what those that are set share.

    `network` is the circuit with this car's supply. Without `findings` every suspect is tried at
    every severity, because no reading excludes any.

    Raises
    ------
    EngineError
        The circuit cannot be solved under one of the suspects.
    """
    codes = tuple(_told(circuit, told))
    if not codes:
        return (), None
    tried = _Tried(circuit, codes, network, findings)
    evidence = tuple(_evidence(tried, each, claim) for each in codes)
    return evidence, _code_set(circuit, codes, tried)


def twins_left(verdict: VerdictDocument | None) -> list[tuple[str, ...]]:
    """Return the twins of a verdict, those apart that a code parts although no place does."""
    before = verdict.before if verdict is not None else None
    if verdict is None or before is None:
        return []
    silent = [frozenset(each.does_not_set) for each in verdict.codes if not each.silent]
    found: dict[tuple[object, ...], list[str]] = {}
    for number, group in enumerate(before.twins):
        for name in group.suspects:
            found.setdefault((number, *(name in each for each in silent)), []).append(name)
    return [tuple(names) for names in found.values()]


def _told(circuit: CaseCircuit, told: CodesTold) -> Iterator[_Told]:
    for each in told.seen:
        yield _Told(
            code=each.code,
            entry=code_entry(circuit.sheet, each.code),
            is_set=True,
            module=each.module,
            status=each.status,
            byte=each.failure_type,
        )
    for code in told.passed:
        yield _Told(code=code, entry=code_entry(circuit.sheet, code), is_set=False)


class _Tried:
    """Suspects at severities, and how likely each sets each code that can be tested."""

    def __init__(
        self,
        circuit: CaseCircuit,
        codes: Sequence[_Told],
        network: Network,
        findings: Sequence[FindingDocument],
    ) -> None:
        self.circuit = circuit
        self.network = network
        self.ends = {each.suspect: each for each in findings}
        entries = {each.entry.code: each.entry for each in codes if each.entry and not each.silent}
        self.column = {code: number for number, code in enumerate(entries)}
        monitors = [monitor_of(circuit.sheet, entry) for entry in entries.values()]
        self.monitors = [each for each in monitors if each is not None]

    @cached_property
    def faults(self) -> tuple[Fault | None, ...]:
        """The circuit in order, then every suspect at its severities."""
        return (
            None,
            *(
                Fault(suspect=suspect, severity=severity)
                for suspect in self.circuit.suspects.values()
                for severity in self._severities(suspect)
            ),
        )

    def _severities(self, suspect: Suspect) -> list[float]:
        if not self._fits(suspect.id):
            return [float(each) for each in suspect.severity_grid(POINTS_EXCLUDED)]
        grid = [float(each) for each in suspect.severity_grid(POINTS_FITTING)]
        found = self.ends.get(suspect.id)
        if found is None or found.severity_low is None or found.severity_high is None:
            return grid
        low, high = sorted((found.severity_low, found.severity_high))
        between = {each for each in grid if low < each < high}
        best = {found.severity} if found.severity is not None else set()
        return sorted({low, high} | between | best)

    def _fits(self, name: str) -> bool:
        return not self.ends or (name in self.ends and self.ends[name].outcome != "does not fit")

    @cached_property
    def rows(self) -> dict[str, IntArray]:
        """Where the severities of each suspect stand, by its id; "healthy" is in order."""
        names = [each.suspect.id if each is not None else HEALTHY for each in self.faults]
        order = np.array(names)
        return {name: np.flatnonzero(order == name) for name in dict.fromkeys(names)}

    @cached_property
    def fitting(self) -> tuple[str, ...]:
        """The suspects that the readings leave, the best first."""
        listed = self.ends or self.circuit.suspects
        return tuple(name for name in listed if name in self.rows and self._fits(name))

    @cached_property
    def excluded(self) -> tuple[str, ...]:
        return tuple(name for name in self.ends if name in self.rows and not self._fits(name))

    @cached_property
    def _chances(self) -> CodeChances:
        return code_chances(self.network, self.monitors, self.faults)

    def chances(self, each: _Told, name: str) -> FloatArray:
        """Return how likely a suspect sets a code, or would have where its monitor ran (S,)."""
        assert each.entry is not None
        table = self._chances.sets if each.is_set else 1 - self._chances.passes
        return np.asarray(table[self.rows[name], self.column[each.entry.code]])

    def word(self, each: _Told, name: str) -> SetWord | Literal[""]:
        """Return whether a suspect sets a code at the severities that it has."""
        if name not in self.rows:
            return ""
        chances = self.chances(each, name)
        if chances.min() >= SURE:
            return SETS
        return DOES_NOT_SET if chances.max() <= 1 - SURE else MAY_SET

    def set_all(self, codes: Sequence[_Told], name: str) -> bool:
        """Return whether a suspect at one severity sets all of some codes, likely enough."""
        together = np.min([self.chances(each, name) for each in codes], axis=0)
        return bool(together.max() >= LIKELY)

    def of_kind(self, kinds: frozenset[FaultKind], names: Sequence[str]) -> tuple[str, ...]:
        faults = {name: self.faults[int(self.rows[name][0])] for name in names}
        return tuple(
            name for name, fault in faults.items() if fault is not None and is_of_kind(fault, kinds)
        )


def _evidence(tried: _Tried, each: _Told, claim: str) -> CodeEvidence:
    failure = each.failure
    plain = CodeEvidence(
        code=each.code,
        module=each.module,
        status=each.status,
        is_set=each.is_set,
        words=each.entry.words if each.entry is not None else "",
        conditions=tuple(map(condition_words, each.entry.conditions)) if each.entry else (),
        silent=each.silent,
        failure_type=each.byte,
        failure_words=failure.words if failure is not None else "",
    )
    kinds = failure.kinds if failure is not None else frozenset()
    if each.silent:
        # What its byte means narrows all the same, if the code is one of this circuit.
        named = tried.of_kind(kinds, tried.fitting) if kinds and each.entry is not None else ()
        return plain.model_copy(update={"of_its_kind": named})
    words = {name: tried.word(each, name) for name in tried.fitting}
    by_word = {
        word: tuple(name for name, said in words.items() if said == word)
        for word in (SETS, MAY_SET, DOES_NOT_SET)
    }
    explain = (*by_word[SETS], *by_word[MAY_SET])
    return plain.model_copy(
        update={
            "healthy": tried.word(each, HEALTHY),
            "claim": tried.word(each, claim) if claim else "",
            "sets": by_word[SETS],
            "may_set": by_word[MAY_SET],
            "does_not_set": by_word[DOES_NOT_SET],
            "excluded_that_set": tuple(
                name for name in tried.excluded if each.is_set and tried.set_all([each], name)
            ),
            "of_its_kind": tried.of_kind(kinds, explain) if kinds else (),
        }
    )


def _code_set(circuit: CaseCircuit, codes: Sequence[_Told], tried: _Tried) -> CodeSet | None:
    """Return what the codes that are set share; None for fewer than two of them."""
    seen = [each for each in codes if each.is_set]
    pins = {
        f"{each.code}-{each.byte} {each.module}": pins_of_code(
            circuit.sheet, each.entry, each.module
        )
        for each in seen
    }
    seen = [each for each, own in zip(seen, pins.values(), strict=True) if own]
    if len(seen) < 2:
        return None
    testable = [each for each in seen if not each.silent]
    suspects = tuple(
        name for name in tried.fitting if len(testable) > 1 and tried.set_all(testable, name)
    )
    passed = {
        each.code: own
        for each in codes
        if not each.is_set
        # Another code of the very same pin says nothing of what else hangs there.
        and (own := pins_of_code(circuit.sheet, each.entry, "")) not in pins.values()
    }
    return CodeSet(
        codes=tuple(dict.fromkeys(each.code for each in seen)),
        modules=tuple(dict.fromkeys(each.module for each in seen if each.module)),
        shared=tuple(
            SharedByCodes(
                kind=thing.kind,
                name=thing.name,
                words=thing.words,
                suspects=tuple(
                    name for name in suspects if circuit.suspects[name].target in thing.targets
                ),
                passed=tuple(
                    code for code, own in passed.items() if _hangs_on(circuit, own, thing)
                ),
            )
            for thing in shared_by(circuit.sheet, pins)
        ),
        suspects=suspects,
    )


def _hangs_on(circuit: CaseCircuit, pins: frozenset[str], thing: SharedThing) -> bool:
    """Return whether pins hang on a thing too."""
    if not pins:
        return False
    return any(
        (each.kind, each.name) == (thing.kind, thing.name)
        for each in shared_by(circuit.sheet, {"one": pins, "same": pins})
    )
