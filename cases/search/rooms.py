"""What a search reads of a room: its segment and the tail written since, kept in memory.

A segment never changes once it is built, so a process may keep it. The tail is few rows; it is kept
until one of them is written anew. One short query tells whether what is kept still holds.
"""

from collections import OrderedDict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from threading import Lock

from cases.models import TermKind
from cases.search.prepared import rows_of
from cases.search.segment import Segment
from cases.search.segments import mark_columns, read_evidence
from cases.search.stored import StoredSegment
from cases.search.terms import term_text, terms_behind

KEPT_BYTES = 400_000_000
_NOW = (
    "SELECT (SELECT array_agg(id ORDER BY id) FROM cases_searchsegment"
    " WHERE retired_at IS NULL{room}), {marks} FROM cases_caseevidence WHERE pending{room}"
)


@dataclass(frozen=True, slots=True, eq=False)
class Tail:
    """What is pending in a room. `cases` are all of it, those that were withdrawn too."""

    mark: bytes
    segment: Segment
    cases: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Room:
    """All that can be searched; if there is a tail it comes last, newer than the others."""

    segments: Sequence[Segment]
    tail_cases: Sequence[int]

    def numbers(self, kind: TermKind, texts: Collection[str]) -> dict[str, int]:
        """Return the numbers of those texts that a case here has."""
        found = {}
        for text in texts:
            key = term_text(text)
            for segment in self.segments:
                number = segment.numbers(kind).get(key)
                if number is not None:
                    found[text] = number
                    break
        return found

    def text(self, kind: TermKind, number: int) -> str:
        """Return the text of a term that a case here has, else nothing."""
        found = (segment.texts(kind).get(number) for segment in self.segments)
        return next(filter(None, found), "")


def room_now(room: str | None) -> Room:
    """Return what can be searched in a room, or in all: everything that is committed by now."""
    keys, mark = _state(room)
    tail = _TAILS.get(room)
    if mark and (tail is None or tail.mark != mark):
        # The tail first: what a build takes out of it meanwhile is then seen twice, never missed.
        tail = _TAILS[room] = _read_tail(room)
        keys, _ = _state(room)
    segments = [_KEPT.get(key) for key in keys]
    if not mark or tail is None:
        _TAILS.pop(room, None)
        return Room(segments, ())
    return Room([*segments, tail.segment], tail.cases)


def _state(room: str | None) -> tuple[list[int], bytes]:
    """Return the segments that hold, and the mark of the tail; none where nothing is pending."""
    where = " AND room = %s" if room is not None else ""
    asked = [room, room] if room is not None else []
    ((keys, *marks),) = rows_of(_NOW.format(room=where, marks=", ".join(mark_columns())), asked)
    return keys or [], b"|".join(marks) if marks[0] is not None else b""


def _read_tail(room: str | None) -> Tail:
    columns = read_evidence(room=room, pending=True)
    rows, postings = columns.segment()
    segment = Segment(
        rows,
        {term: posting for term, (_, posting) in postings.items()},
        terms=lambda: terms_behind({*postings, *segment.named_in_rows}),
    )
    return Tail(columns.mark, segment, tuple(columns.cases.tolist()))


class _Kept:
    """The segments that this process has in memory, the last used ones."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._segments: OrderedDict[int, StoredSegment] = OrderedDict()

    def get(self, key: int) -> Segment:
        with self._lock:
            segment = self._segments.get(key)
            if segment is not None:
                self._segments.move_to_end(key)
                return segment
        segment = StoredSegment(key)
        with self._lock:
            self._segments[key] = segment
            self._let_go(besides=key)
        return segment

    def _let_go(self, *, besides: int) -> None:
        total = sum(segment.size_in_bytes for segment in self._segments.values())
        for key in list(self._segments):
            if total <= KEPT_BYTES or key == besides:
                return
            total -= self._segments.pop(key).size_in_bytes


_KEPT = _Kept()
_TAILS: dict[str | None, Tail] = {}
