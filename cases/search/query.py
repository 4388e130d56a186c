"""What is searched for: an open case, or readings, codes and words typed in on the spot."""

from collections import OrderedDict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from typing import Final

from cases.circuit import CIRCUITS_KEPT, CaseCircuit, circuit_of
from cases.documents.verdicts import VerdictDocument
from cases.judging.lines import Line
from cases.judging.verdict import judge_lines
from cases.models import Case
from cases.privacy import scrubber_for
from cases.search.compared import Compared, Comparer, compared_in
from cases.search.evidence import SlotReading, measured_slots, room_named, speech_of
from cases.search.roles import role_readings
from cases.search.words import words_of
from circuits.engine import EngineError

#: A verdict takes the engine much longer than all the rest of a search.
VERDICTS_KEPT: Final = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """A search, normalised. `verdict` judges the readings against every fault of the circuit.

    `compared` are the readings that a verdict hears; where `verdict_is_due` the verdict on them is
    left for later. With `by_role` readings are compared by what a place touches, so that other
    makes answer.
    """

    circuit: CaseCircuit | None = None
    circuit_key: str = ""
    system: str = ""
    slots: tuple[SlotReading, ...] = ()
    compared: tuple[Compared, ...] = ()
    verdict: VerdictDocument | None = None
    verdict_is_due: bool = False
    codes: frozenset[str] = frozenset()
    words: tuple[str, ...] = ()
    leave_out: int | None = None
    by_role: bool = False

    @property
    def room(self) -> str | None:
        """The room that is searched; None for all of them."""
        return room_named(self.system) if self.system else None

    @property
    def by_number(self) -> dict[int, Compared]:
        """The readings that are compared, by number; of two with one number the logged one."""
        return {reading.number: reading for reading in reversed(self.compared)}


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
        _compared_by(verdict),
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
    waits_for_verdict: bool = True,
) -> Query:
    """Return a search for what was typed in on the spot; readings need their circuit.

    `shops` are those whose words the searcher uses, `asker` is the searcher: a verdict on readings
    is kept for who asks again with other words or a narrower question. Who does not wait for one
    that takes the engine has it left for later.
    """
    verdict = None
    compared: Sequence[Compared] = ()
    is_due = False
    if circuit is not None and lines:
        verdict = _VERDICTS.get(asker, circuit, tuple(lines), at_once=not waits_for_verdict)
        is_due = verdict is None
        compared = _beside(circuit, lines) if is_due else _compared_by(verdict)
    return _query(
        circuit,
        system,
        verdict,
        compared,
        verdict_is_due=is_due,
        codes=[code.strip().upper() for code in codes],
        words=words_of(words, speech=speech_of(shops)),
        by_role=by_role,
    )


class _Verdicts:
    """The last verdicts on readings that were typed in, kept for each person apart.

    Else somebody could tell by how soon an answer comes that another asked about the same readings.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: OrderedDict[tuple[object, ...], VerdictDocument] = OrderedDict()

    def get(
        self, asker: int | None, circuit: CaseCircuit, lines: tuple[Line, ...], *, at_once: bool
    ) -> VerdictDocument | None:
        """Return the verdict; None where it would have to be given and is wanted at once."""
        key = (asker, circuit, lines)
        with self._lock:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
        if kept is not None or at_once:
            return kept
        verdict = judge_lines(circuit, lines)
        with self._lock:
            self._kept[key] = verdict
            if len(self._kept) > VERDICTS_KEPT:
                self._kept.popitem(last=False)
        return verdict


_VERDICTS = _Verdicts()


def _compared_by(verdict: VerdictDocument | None) -> list[Compared]:
    return compared_in(verdict.before) if verdict is not None else []


def _beside(circuit: CaseCircuit, lines: Sequence[Line]) -> list[Compared]:
    """Return what a verdict on readings would compare; nothing where none can be given."""
    comparer = _comparer(circuit)
    try:
        return comparer.compared([(each, each.entry.number) for each in comparer.ready(lines)])
    except EngineError:
        return []


@lru_cache(maxsize=CIRCUITS_KEPT)
def _comparer(circuit: CaseCircuit) -> Comparer:
    return Comparer(circuit)


def _query(
    circuit: CaseCircuit | None,
    system: str,
    verdict: VerdictDocument | None,
    compared: Sequence[Compared],
    *,
    codes: Sequence[str],
    words: Sequence[str],
    verdict_is_due: bool = False,
    leave_out: int | None = None,
    by_role: bool = False,
) -> Query:
    slots: Sequence[SlotReading] = ()
    if circuit is not None:
        slots = (
            [
                SlotReading(each.role, each.size, each.number)
                for each in role_readings(circuit, compared)
            ]
            if by_role
            else measured_slots(circuit, compared)
        )
    return Query(
        circuit=circuit,
        circuit_key=circuit.sheet.vehicle.key if circuit is not None else "",
        system=circuit.sheet.vehicle.system if circuit is not None else system.strip(),
        slots=tuple(slots),
        compared=tuple(compared),
        verdict=verdict,
        verdict_is_due=verdict_is_due,
        codes=frozenset(code for code in codes if code),
        words=tuple(words),
        leave_out=leave_out,
        by_role=by_role,
    )
