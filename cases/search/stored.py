"""Segments as they lie in the database: columns, terms and postings, each fetched when it is asked.

All that a first search would have to derive or count lies there as well.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Final

import numpy as np
from django.db import connection

from cases.models import SearchColumn, SearchPosting, SearchSegment, TermKind
from cases.search.postings import NOWHERE, LongArray, Posting
from cases.search.prepared import rows_of
from cases.search.scoring import BINS
from cases.search.segment import AnyArray, Blocks, Coded, Numbers, Rows, Segment, columns_of
from cases.search.tally import counted
from cases.search.terms import terms_behind

#: Postings shorter than this are counted when they are asked for.
COUNTED_FROM: Final = 500
#: No text holds it: PostgreSQL refuses it.
BETWEEN_TERMS: Final = "\0"
#: What only some searches need: those that are narrowed, or from which a case is hidden.
SELDOM_ASKED: Final = ("roots", "circuits", "opened", "by case")
_TEXT: Final = "text"

_COLUMNS = "SELECT name, form, data FROM cases_searchcolumn WHERE segment_id = %s"
_POSTINGS = (
    "SELECT term, kind, rows, sizes, counts FROM cases_searchposting"
    " WHERE segment_id = %s AND term = ANY(%s)"
)


def keep_segment(
    made: SearchSegment, segment: Segment, postings: Mapping[int, tuple[TermKind, Posting]]
) -> None:
    """Write all that there is of a segment."""
    columns = [(name, each.dtype.str, each.tobytes()) for name, each in columns_of(segment)]
    terms: dict[TermKind, dict[int, str]] = {kind: {} for kind in TermKind}
    for kind, text, number in terms_behind({*postings, *segment.named_in_rows}):
        terms[TermKind(kind)][number] = text
    for named, texts in terms.items():
        numbers = np.array(list(texts), dtype="<i4")
        columns.append((f"{named} numbers", numbers.dtype.str, numbers.tobytes()))
        columns.append((f"{named} texts", _TEXT, BETWEEN_TERMS.join(texts.values()).encode()))
    _copy(
        SearchColumn._meta.db_table,
        {"segment_id": "int8", "name": "varchar", "form": "varchar", "data": "bytea"},
        ((made.pk, *column) for column in columns),
    )
    _copy(
        SearchPosting._meta.db_table,
        {
            "segment_id": "int8",
            "kind": "varchar",
            "term": "int4",
            "rows": "bytea",
            "sizes": "bytea",
            "counts": "bytea",
        },
        (
            (
                made.pk,
                str(kind),
                term,
                posting.rows.astype("<i4").tobytes(),
                posting.steps.tobytes(),
                _counts_as_bytes(segment, posting),
            )
            for term, (kind, posting) in postings.items()
        ),
    )


def _copy(table: str, types: Mapping[str, str], rows: Iterable[Sequence[object]]) -> None:
    with (
        connection.cursor() as cursor,
        cursor.copy(f"COPY {table} ({', '.join(types)}) FROM STDIN (FORMAT BINARY)") as copy,
    ):
        copy.set_types(list(types.values()))
        for row in rows:
            copy.write_row(row)


def _counts_as_bytes(segment: Segment, posting: Posting) -> bytes:
    """Return what is counted of the shared rows of a posting: where something is, and how much."""
    if len(posting.rows) < COUNTED_FROM:
        return b""
    bins = BINS if len(posting.steps) else 1
    counts = counted(segment, posting.up_to(segment.shared_stop), bins).reshape(-1)
    places = np.flatnonzero(counts)
    return np.stack([places, counts[places].astype(np.int64)]).astype("<i4").tobytes()


class _Columns(Mapping[str, AnyArray]):
    """The columns of a segment by name; those that most searches need are fetched at once."""

    def __init__(self, key: int) -> None:
        self.key = key
        self._here: dict[str, AnyArray] = {}
        self.texts: dict[str, str] = {}
        self._fetch(" AND NOT name = ANY(%s)", list(SELDOM_ASKED))

    def _fetch(self, which: str, names: list[str]) -> None:
        for name, form, data in rows_of(_COLUMNS + which, [self.key, names]):
            if form == _TEXT:
                self.texts[name] = str(data, "utf-8")
            else:
                self._here[name] = np.frombuffer(data, dtype=form)

    def __getitem__(self, name: str) -> AnyArray:
        if name in ("faults", "shops", "vehicles"):
            return self[f"{name} here"][self[f"{name} by place"]]
        if name not in self._here:
            self._fetch(" AND name = ANY(%s)", [name])
        return self._here[name]

    def __iter__(self) -> Iterator[str]:
        """Go through those that are here."""
        return iter(list(self._here))

    def __len__(self) -> int:
        return len(self._here)


class StoredSegment(Segment):
    """A segment of the database; what it lacks it fetches."""

    def __init__(self, key: int) -> None:
        self.key = key
        self._columns = _Columns(key)
        super().__init__(Rows(self._columns), {}, terms=lambda: ())

    def load(self, terms: Iterable[int]) -> None:
        """Fetch what there is of these terms, all at once, unless it is here."""
        missing = [term for term in terms if term not in self._postings]
        if not missing:
            return
        found = dict.fromkeys(missing, NOWHERE)
        for term, kind, rows, sizes, counts in rows_of(_POSTINGS, [self.key, missing]):
            found[term] = Posting(
                np.frombuffer(rows, dtype="<i4").astype(np.int64),
                np.frombuffer(sizes, dtype=np.int8),
            )
            if counts:
                bins = BINS if kind in (TermKind.SLOT, TermKind.ROLE) else 1
                self.counts[term, bins] = self._counts_from(counts, bins)
        self._postings |= found

    def _counts_from(self, data: bytes, bins: int) -> AnyArray:
        places, tenths = np.frombuffer(data, dtype="<i4").reshape(2, -1)
        counts = np.zeros((len(self.fault_numbers), bins))
        counts.reshape(-1)[places] = tenths
        return counts

    def posting(self, term: int) -> Posting:
        if term not in self._postings:
            self.load([term])
        return self._postings[term]

    def numbers(self, kind: TermKind) -> Numbers:
        """Return the terms of a kind of all cases here, whoever may see them: number by text."""
        if kind not in self._of_kind:
            numbers = self._columns[f"{kind} numbers"].tolist()
            texts = self._columns.texts[f"{kind} texts"].split(BETWEEN_TERMS)
            self._of_kind[kind] = dict(zip(texts, numbers, strict=False)) if numbers else {}
        return self._of_kind[kind]

    @cached_property
    def _of_kind(self) -> dict[TermKind, Numbers]:
        return {}

    @cached_property
    def blocks(self) -> Blocks:
        start, stop, group, fault, tenths = (
            self._columns[f"block {name}"] for name in ("start", "stop", "group", "fault", "tenths")
        )
        return Blocks(start=start, stop=stop, group=group, fault=fault, tenths=tenths)

    @property
    def coded_faults(self) -> Coded:
        return self._coded("faults")

    @property
    def coded_shops(self) -> Coded:
        return self._coded("shops")

    @property
    def coded_vehicles(self) -> Coded:
        return self._coded("vehicles")

    def _coded(self, name: str) -> Coded:
        return self._columns[f"{name} here"], self._columns[f"{name} by place"]

    @property
    def copies(self) -> LongArray:
        return self._columns["copies"]

    @property
    def by_case(self) -> AnyArray:
        return self._columns["by case"]
