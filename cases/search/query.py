"""What is searched for: an open case, or readings, codes and words typed in on the spot."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from cases.circuit import CaseCircuit, circuit_of
from cases.documents.verdicts import JudgedReading, VerdictDocument
from cases.judging.lines import Line
from cases.judging.verdict import judge_lines
from cases.models import Case
from cases.privacy import scrubber_for
from cases.search.evidence import SlotReading, measured_slots, room_named, speech_of
from cases.search.roles import role_readings
from cases.search.words import words_of

#: A verdict takes the engine much longer than all the rest of a search.
VERDICTS_KEPT: Final = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """A search, normalised. `verdict` judges the readings against every fault of the circuit.

    With `by_role` readings are compared by what a place touches, so that other makes answer.
    """

    circuit: CaseCircuit | None = None
    circuit_key: str = ""
    system: str = ""
    slots: tuple[SlotReading, ...] = ()
    verdict: VerdictDocument | None = None
    codes: frozenset[str] = frozenset()
    words: tuple[str, ...] = ()
    leave_out: int | None = None
    by_role: bool = False

    @property
    def room(self) -> str | None:
        """The room that is searched; None for all of them."""
        return room_named(self.system) if self.system else None

    @property
    def judged(self) -> dict[int, JudgedReading]:
        """The readings that were judged, by number; of two with one number the logged one."""
        before = self.verdict.before if self.verdict is not None else None
        if before is None:
            return {}
        return {reading.number: reading for reading in reversed(before.readings)}


def query_for_case(
    case: Case,
    lines: Sequence[Line],
    verdict: VerdictDocument | None,
    *,
    by_role: bool = False,
) -> Query:
    """Return the search for cases like this one."""
    circuit = circuit_of(case.revision) if case.revision is not None else None
    if verdict is None and circuit is not None and lines:
        verdict = judge_lines(circuit, lines)
    scrubber = scrubber_for(case)
    return _query(
        circuit,
        case.system,
        verdict,
        codes=[code.code for code in case.codes.all()],
        words=words_of(
            scrubber.clean(case.complaint),
            scrubber.clean(case.conditions),
            speech=speech_of([case.shop_id]),
        ),
        leave_out=case.pk,
        by_role=by_role,
    )


def query_for_readings(
    *,
    circuit: CaseCircuit | None = None,
    system: str = "",
    lines: Sequence[Line] = (),
    codes: Sequence[str] = (),
    words: str = "",
    by_role: bool = False,
    shops: Collection[int] = (),
    asker: int | None = None,
) -> Query:
    """Return a search for what was typed in on the spot; readings need their circuit.

    `shops` are those whose words the searcher uses, `asker` is the searcher: a verdict on readings
    is kept for who asks again with other words or a narrower question.
    """
    verdict = None
    if circuit is not None and lines:
        verdict = _verdict(asker, circuit, tuple(lines))
    return _query(
        circuit,
        system,
        verdict,
        codes=[code.strip().upper() for code in codes],
        words=words_of(words, speech=speech_of(shops)),
        by_role=by_role,
    )


@lru_cache(maxsize=VERDICTS_KEPT)
def _verdict(asker: int | None, circuit: CaseCircuit, lines: tuple[Line, ...]) -> VerdictDocument:
    """Return the verdict on readings, kept for each person apart.

    Else somebody could tell by how soon an answer comes that another asked about the same readings.
    """
    return judge_lines(circuit, lines)


def _query(
    circuit: CaseCircuit | None,
    system: str,
    verdict: VerdictDocument | None,
    *,
    codes: Sequence[str],
    words: Sequence[str],
    leave_out: int | None = None,
    by_role: bool = False,
) -> Query:
    slots: Sequence[SlotReading] = ()
    if circuit is not None and verdict is not None:
        slots = (
            [
                SlotReading(each.role, each.size, each.number)
                for each in role_readings(circuit, verdict.before)
            ]
            if by_role
            else measured_slots(circuit, verdict.before)
        )
    return Query(
        circuit=circuit,
        circuit_key=circuit.sheet.vehicle.key if circuit is not None else "",
        system=circuit.sheet.vehicle.system if circuit is not None else system.strip(),
        slots=tuple(slots),
        verdict=verdict,
        codes=frozenset(code for code in codes if code),
        words=tuple(words),
        leave_out=leave_out,
        by_role=by_role,
    )
