"""Find the past cases that resemble a job: exact scoring of every case the searcher may see.

No index is asked first, because an approximate one would have to guess which readings matter;
every visible case of the system is scored, then the best are explained, tried against the
circuit and grouped by fault.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime

import numpy as np
from django.db.models import Q

from cases.models import Case, CaseEvidence, CaseQuerySet, LoggedReading
from cases.search.partings import not_parted_words, parting_places
from cases.search.query import Query
from cases.search.results import FaultGroup, Hit, Reason, SearchResult, Speaks, Term
from cases.search.scoring import (
    FLOOR,
    STANDING_POINTS,
    TELLING_SIZE,
    CaseRow,
    Rarity,
    kernel_points,
    sizes_of,
)
from cases.search.transfer import old_fault
from cases.search.words import spellings
from circuits.units import format_in

DEFAULT_LIMIT = 10
HITS_PER_FAULT = 3


def find_similar(
    query: Query,
    cases: CaseQuerySet,
    *,
    at: datetime,
    limit: int = DEFAULT_LIMIT,
    per_fault: int = HITS_PER_FAULT,
) -> SearchResult:
    """Return the cases most like the query.

    `cases` are those that the searcher may see; nothing of any other case is looked at, neither
    for how rare a word is nor for how it is spelled.
    """
    evidence = _evidence(query, cases)
    rows = _rows(evidence)
    rarity = Rarity(rows)
    spelled = spellings(query.words, rarity.vocabulary)
    scores = _Scores(query, rows, rarity, spelled)
    standings = [entry.case.standing_at(at) for entry in evidence]
    ranked = scores.ranked([STANDING_POINTS.get(standing, 0.0) for standing in standings])
    chosen = _one_per_root(ranked, rows)
    kept = _capped(chosen, evidence, limit, per_fault)
    explain = _Explainer(query, scores, evidence, [number for number, _ in kept])
    hits = [
        Hit(
            case=evidence[number].case,
            score=score,
            standing=standings[number],
            reasons=explain.reasons(number, standings[number]),
            fault=old_fault(query, evidence[number].case),
            copies=tuple(
                evidence[copy].case.key
                for copy, _ in ranked
                if copy != number and rows[copy].root == rows[number].root
            ),
        )
        for number, score in kept
    ]
    groups = _grouped(hits, _fault_counts(chosen, evidence))
    return SearchResult(
        groups=groups,
        partings=parting_places(query, groups),
        not_parted=not_parted_words(query, groups),
        spelled={
            word: tuple(other for other in likely if other != word)
            for word, likely in spelled.items()
            if likely and word not in likely
        },
        compared=rarity.observations,
    )


def _evidence(query: Query, cases: CaseQuerySet) -> list[CaseEvidence]:
    """Return the evidence of the cases in question, in one query."""
    cases = cases.filter(withdrawn_at__isnull=True)
    if query.circuit_key:
        cases = cases.filter(
            Q(revision__circuit__key=query.circuit_key) | Q(system__iexact=query.system)
        )
    elif query.system:
        cases = cases.filter(system__iexact=query.system)
    if query.leave_out is not None:
        cases = cases.exclude(pk=query.leave_out)
    return list(
        CaseEvidence.objects.filter(case__in=cases)
        .select_related(
            "case", "case__shop", "case__vehicle", "case__revision", "case__revision__circuit"
        )
        .order_by("case_id")
    )


def _rows(evidence: Sequence[CaseEvidence]) -> list[CaseRow]:
    sources = {entry.case_id: entry.case.copied_from_id for entry in evidence}

    def root(case: int) -> int:
        seen = {case}
        while (source := sources.get(case)) is not None and source not in seen:
            seen.add(source)
            case = source
        return case

    return [
        CaseRow(
            case=entry.case_id,
            root=root(entry.case_id),
            sizes=dict(zip(entry.slots, entry.sizes, strict=True)),
            codes=frozenset(entry.codes),
            words=frozenset(entry.words),
        )
        for entry in evidence
    ]


class _Scores:
    """The points of every case: readings (cases, slots), codes and words."""

    def __init__(
        self,
        query: Query,
        rows: Sequence[CaseRow],
        rarity: Rarity,
        spelled: dict[str, dict[str, float]],
    ) -> None:
        self.query = query
        self.rows = rows
        slots = [entry.slot for entry in query.slots]
        self.sizes = sizes_of(slots, rows)
        self.readings = np.zeros((len(rows), len(slots)))
        self.telling = [
            column for column, entry in enumerate(query.slots) if abs(entry.size) >= TELLING_SIZE
        ]
        if slots and rows:
            wanted = np.array([entry.size for entry in query.slots])
            self.readings = kernel_points(wanted, self.sizes)
        self.codes = [
            {code: rarity.code_points(code) for code in sorted(query.codes & row.codes)}
            for row in rows
        ]
        self.words = [_word_points(row, rarity, spelled) for row in rows]

    def ranked(self, standing: Sequence[float]) -> list[tuple[int, float]]:
        """Return the rows above the floor with their scores, best first, ties by age.

        A row needs something that speaks for it: a code, a word, or a reading that the car in
        order would not give.
        """
        found = []
        for number in range(len(self.rows)):
            evidence = (
                float(self.readings[number].sum())
                + sum(self.codes[number].values())
                + sum(points for _, points in self.words[number].values())
            )
            if evidence >= FLOOR and self._has_a_telling_term(number):
                found.append((number, evidence + standing[number]))
        return sorted(found, key=lambda entry: (-entry[1], self.rows[entry[0]].case))

    def _has_a_telling_term(self, number: int) -> bool:
        return bool(
            self.codes[number]
            or self.words[number]
            or (self.readings[number, self.telling] > 0).any()
        )


def _word_points(
    row: CaseRow, rarity: Rarity, spelled: dict[str, dict[str, float]]
) -> dict[str, tuple[str, float]]:
    """Return for each word asked the likest word the case has, with its points."""
    found: dict[str, tuple[str, float]] = {}
    taken: set[str] = set()
    for word, likely in spelled.items():
        shared = [
            (likeness * rarity.word_points(other), other)
            for other, likeness in likely.items()
            if other in row.words and other not in taken
        ]
        if shared:
            points, other = max(shared)
            taken.add(other)
            found[word] = (other, points)
    return found


def _one_per_root(
    ranked: Iterable[tuple[int, float]], rows: Sequence[CaseRow]
) -> list[tuple[int, float]]:
    """Keep the best of a case and its copies."""
    seen: set[int] = set()
    kept = []
    for number, score in ranked:
        if rows[number].root not in seen:
            seen.add(rows[number].root)
            kept.append((number, score))
    return kept


def _fault_key(case: Case) -> tuple[object, ...]:
    if not case.claimed_suspect or case.revision is None:
        return ("case", case.pk)
    return (case.revision.circuit_id, case.claimed_suspect)


def _capped(
    chosen: Iterable[tuple[int, float]],
    evidence: Sequence[CaseEvidence],
    limit: int,
    per_fault: int,
) -> list[tuple[int, float]]:
    """Keep the best few of each fault, so that one common fault does not fill the list."""
    counts: dict[tuple[object, ...], int] = {}
    kept = []
    for number, score in chosen:
        key = _fault_key(evidence[number].case)
        counts[key] = counts.get(key, 0) + 1
        if counts[key] <= per_fault:
            kept.append((number, score))
    return kept[:limit]


def _fault_counts(
    chosen: Iterable[tuple[int, float]], evidence: Sequence[CaseEvidence]
) -> dict[tuple[object, ...], int]:
    counts: dict[tuple[object, ...], int] = {}
    for number, _ in chosen:
        key = _fault_key(evidence[number].case)
        counts[key] = counts.get(key, 0) + 1
    return counts


def _grouped(hits: Sequence[Hit], counts: dict[tuple[object, ...], int]) -> tuple[FaultGroup, ...]:
    by_fault: dict[tuple[object, ...], list[Hit]] = {}
    for hit in hits:
        by_fault.setdefault(_fault_key(hit.case), []).append(hit)
    groups = [
        FaultGroup(fault=members[0].fault, hits=tuple(members), count=counts[key])
        for key, members in by_fault.items()
    ]
    # However alike the story: what the new readings exclude comes after what they do not.
    return tuple(sorted(groups, key=lambda group: group.is_excluded))


class _Explainer:
    """Puts the terms of a score into words, with both values."""

    def __init__(
        self,
        query: Query,
        scores: _Scores,
        evidence: Sequence[CaseEvidence],
        numbers: Sequence[int],
    ) -> None:
        self.query = query
        self.scores = scores
        self.evidence = evidence
        wanted = {reading for number in numbers for reading in evidence[number].readings}
        self.logged = LoggedReading.objects.in_bulk(wanted) if wanted else {}
        self.judged = query.judged

    def reasons(self, number: int, standing: str) -> tuple[Reason, ...]:
        """Return the terms of one case's score; their points add up to it."""
        return (
            *self._reading_reasons(number),
            *(
                Reason(
                    term=Term.CODE,
                    speaks=Speaks.FOR,
                    points=points,
                    words=f"{code} was set there too",
                )
                for code, points in self.scores.codes[number].items()
            ),
            *(
                Reason(
                    term=Term.WORD,
                    speaks=Speaks.FOR,
                    points=points,
                    words=f"'{word}'" if word == other else f"'{word}', there '{other}'",
                )
                for word, (other, points) in self.scores.words[number].items()
            ),
            _standing_reason(standing),
        )

    def _reading_reasons(self, number: int) -> list[Reason]:
        entry = self.evidence[number]
        where = dict(zip(entry.slots, entry.readings, strict=True))
        found = []
        for column, asked in enumerate(self.query.slots):
            judged = self.judged[asked.number]
            where_asked = f"{judged.place} in '{judged.phase}'"
            here = self._here(column)
            if asked.slot not in where:
                found.append(
                    Reason(
                        term=Term.READING,
                        speaks=Speaks.SILENT,
                        points=0.0,
                        words=f"{where_asked}: {here} here, not measured there",
                    )
                )
                continue
            points = float(self.scores.readings[number, column])
            there = self._there(where[asked.slot])
            found.append(
                Reason(
                    term=Term.READING,
                    speaks=Speaks.FOR if points > 0 else Speaks.AGAINST,
                    points=points,
                    words=f"{where_asked}: {here} here, {there} there",
                )
            )
        return found

    def _here(self, column: int) -> str:
        judged = self.judged[self.query.slots[column].number]
        return format_in(judged.value, self._unit(judged.place))

    def _there(self, reading: int) -> str:
        logged = self.logged[reading]
        return format_in(logged.value or 0.0, self._unit(logged.place_key))

    def _unit(self, place: str) -> str:
        entry = self.query.circuit.entry_at(place) if self.query.circuit is not None else None
        return entry.unit if entry is not None else "V"


def _standing_reason(standing: str) -> Reason:
    points = STANDING_POINTS.get(standing, 0.0)
    return Reason(
        term=Term.STANDING,
        speaks=Speaks.AGAINST if points < 0 else Speaks.FOR,
        points=points,
        words=f"the case stands as {standing}",
    )
