"""Segments in the database: built from evidence, room by room.

A segment never changes once it is built. What was written since is the tail, until the next one.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any, Final

import numpy as np
from django.db import connection, transaction

from cases.models import CaseEvidence, SearchSegment, TermKind
from cases.search.postings import LongArray, Posting, TermColumn, postings_of
from cases.search.segment import ROW_COLUMNS, Rows, Segment
from cases.search.stored import keep_segment

#: How many pending rows a room may have before its segment is built anew.
MOST_PENDING = 500
#: A build that takes so many rows out of the tail leaves traces that search would stumble over.
LONG_TAIL = 10_000
# A search that began with an older segment is over long before.
RETIRED_FOR = timedelta(minutes=10)
_WITH_SIZES = {TermKind.SLOT: ("slots", "sizes"), TermKind.ROLE: ("roles", "role_sizes")}
_WITHOUT = {TermKind.CODE: "codes", TermKind.WORD: "words"}
#: Faults that were ruled out are kept as terms of the kind of faults.
_RULED_OUT = {TermKind.FAULT: "ruled_out"}

_COLUMNS = (
    ("cases", "int8send(case_id)", ">i8"),
    ("roots", "int8send(root)", ">i8"),
    ("shops", "int4send(shop_id::int)", ">i4"),
    ("shared", "boolsend(is_shared)", "?"),
    ("withdrawn", "boolsend(is_withdrawn)", "?"),
    ("faults", "int4send(fault)", ">i4"),
    ("circuits", "int4send(circuit)", ">i4"),
    ("vehicles", "int4send(vehicle)", ">i4"),
    ("standings", "int2send(standing)", ">i2"),
    ("held_from", "int4send(held_from_day)", ">i4"),
    ("opened", "int4send(opened_day)", ">i4"),
    ("stamps", "int8send(stamp)", ">i8"),
    # Who wrote the row: even a writing that was taken back never passes for another one.
    ("writings", "int8send(xmin::text::bigint)", ">i8"),
)
#: All else is kept in four bytes.
_KEPT_AS: Final = {
    "cases": np.int64,
    "roots": np.int64,
    "shared": np.bool_,
    "standings": np.int8,
}
#: What tells one state of a tail from another.
MARKS = ("cases", "stamps", "writings")
_LISTS = ("slots", "sizes", "roles", "role_sizes", "codes", "words", "ruled_out")
_READ = (
    "SELECT {} FROM (SELECT *, xmin FROM cases_caseevidence WHERE {} ORDER BY case_id) AS evidence"
)


class Columns:
    """Evidence as it was read: a column for each thing, and the cases it is of."""

    def __init__(self, found: Mapping[str, Any]) -> None:
        self.plain = {
            name: np.frombuffer(found[name] or b"", dtype=dtype) for name, _, dtype in _COLUMNS
        }
        self._lists = {name: found[name] or b"" for name in _LISTS}
        self._lengths = {
            name: np.frombuffer(found[f"{name}_length"] or b"", dtype=">i4").astype(np.int64)
            for name in _LISTS
        }

    @property
    def cases(self) -> LongArray:
        return self.plain["cases"].astype(np.int64)

    @property
    def mark(self) -> bytes:
        """What tells these rows from any others, and from themselves at another time."""
        return b"|".join(self.plain[name].tobytes() for name in MARKS)

    @cached_property
    def _kept(self) -> LongArray:
        return np.flatnonzero(~self.plain["withdrawn"])

    def segment(self) -> tuple[Rows, dict[int, tuple[TermKind, Posting]]]:
        """Return rows and postings of the cases that are not withdrawn."""
        kept = self._kept
        plain = {name: column[kept] for name, column in self.plain.items()}
        rows = Rows(
            {name: plain[name].astype(_KEPT_AS.get(name, np.int32)) for name in ROW_COLUMNS}
        )
        order = rows.in_order()
        return rows.taken(order), postings_of(order, self._term_columns())

    def _term_columns(self) -> Iterator[TermColumn]:
        nothing = np.empty(0, dtype=np.int8)
        for kind, (name, sizes) in _WITH_SIZES.items():
            yield self._term_column(kind, name, np.frombuffer(self._list(sizes, 1), np.int8))
        for kind, name in (*_WITHOUT.items(), *_RULED_OUT.items()):
            yield self._term_column(kind, name, nothing)

    def _term_column(self, kind: TermKind, name: str, steps: Any) -> TermColumn:
        counts = (self._lengths[name][self._kept] // 4).astype(np.int32)
        terms = np.frombuffer(self._list(name, 4), dtype="<i4").astype(np.int32)
        return TermColumn(kind, terms, counts, steps)

    def _list(self, name: str, width: int) -> bytes:
        """Return one list of all kept cases."""
        data = self._lists[name]
        if len(self._kept) == len(self.plain["cases"]):
            return bytes(data)
        lengths = self._lengths[name]
        keep = np.repeat(~self.plain["withdrawn"], lengths)
        return bytes(np.frombuffer(data, np.uint8)[keep])


def mark_columns() -> list[str]:
    """Return the expressions whose results, joined, are the mark of the rows that are read."""
    sent = {name: expression for name, expression, _ in _COLUMNS}
    return [f"string_agg({sent[name]}, ''::bytea ORDER BY case_id)" for name in MARKS]


def read_evidence(*, room: str | None, pending: bool) -> Columns:
    """Return the evidence of a room, or of all, in one query: all of it or what is pending."""
    chosen = [f"string_agg({sent}, ''::bytea) AS {name}" for name, sent, _ in _COLUMNS]
    for name in _LISTS:
        chosen.append(f"string_agg({name}, ''::bytea) AS {name}")
        chosen.append(f"string_agg(int4send(octet_length({name})), ''::bytea) AS {name}_length")
    names = [column.rpartition(" AS ")[2] for column in chosen]
    where, arguments = [], []
    if room is not None:
        where.append("room = %s")
        arguments.append(room)
    if pending:
        where.append("pending")
    with connection.cursor() as cursor:
        cursor.execute(_READ.format(", ".join(chosen), " AND ".join(where) or "TRUE"), arguments)
        values = cursor.fetchone()
    assert values is not None  # an aggregate always gives one row
    return Columns(dict(zip(names, values, strict=True)))


@transaction.atomic
def build_segment(room: str, *, at: datetime) -> int:
    """Build the segment of a room anew and return how many cases it has.

    Searches go on meanwhile: they have the older segment and the tail until this one is there,
    and what is written meanwhile stays in the tail.
    """
    _one_builder_at_a_time(room)
    columns = read_evidence(room=room, pending=False)
    rows, postings = columns.segment()
    SearchSegment.objects.filter(retired_at__lt=at - RETIRED_FOR).delete()
    SearchSegment.objects.filter(room=room, retired_at__isnull=True).update(retired_at=at)
    made = SearchSegment.objects.create(room=room, built_at=at)
    keep_segment(made, Segment(rows, {}, terms=lambda: ()), postings)
    _no_longer_pending(columns)
    return len(rows)


def _one_builder_at_a_time(room: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [f"search segment {room}"])


def _no_longer_pending(columns: Columns) -> None:
    """Take out of the tail what the new segment holds, unless it was written again meanwhile."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE cases_caseevidence AS evidence SET pending = FALSE"
            " FROM unnest(%s::bigint[], %s::bigint[]) AS read (case_id, stamp)"
            " WHERE evidence.pending AND evidence.case_id = read.case_id"
            " AND evidence.stamp = read.stamp",
            [columns.cases.tolist(), columns.plain["stamps"].tolist()],
        )


def forget_former_tails(rooms: Iterable[str]) -> None:
    """Let the database find out that rows which builds took out of tails are no longer there.

    Until it knows, each search goes through all of them once more: by older statistics it would
    look for the tail in a way that never marks them as gone. Safe at any time.
    """
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE cases_caseevidence (pending)")
        for room in rooms:
            cursor.execute(
                "SELECT count(*) FROM cases_caseevidence WHERE pending AND room = %s", [room]
            )


def rooms_to_build(most_pending: int = MOST_PENDING) -> list[str]:
    """Return the rooms whose tail has grown longer than this."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT room FROM cases_caseevidence WHERE pending"
            " GROUP BY room HAVING count(*) > %s ORDER BY room",
            [most_pending],
        )
        return [room for (room,) in cursor.fetchall()]


def all_rooms() -> list[str]:
    """Return every room that has a case."""
    return list(CaseEvidence.objects.order_by("room").values_list("room", flat=True).distinct())
