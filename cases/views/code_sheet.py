"""What the page of a case shows of its codes as evidence."""

from collections.abc import Callable
from dataclasses import dataclass

from cases.documents.codes import CodeEvidence, SharedByCodes
from cases.documents.verdicts import VerdictDocument
from cases.judging.code_words import (
    Statement,
    code_mark,
    code_standing,
    code_title,
    listed,
    passed_words,
    set_statements,
    shared_words,
    statements,
)

#: More faults than these are folded away.
MOST_SHOWN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A sentence with the faults it is about: the first few, and the rest to be unfolded."""

    lead: str
    first: tuple[str, ...]
    rest: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeRow:
    """One code: how it stood, when it sets, and what it says."""

    title: str
    standing: str
    words: str
    conditions: tuple[str, ...]
    mark: str
    told: tuple[Told, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedRow:
    """Something that codes share, the faults there that set them all, and who else hangs on it."""

    words: str
    faults: tuple[str, ...]
    passed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedRows:
    """What codes share: where a fault sets them all, and where none does."""

    causes: tuple[SharedRow, ...]
    others: tuple[SharedRow, ...]


class CodeSheet:
    """The codes of a case as its page shows them; `say` says a suspect in trade words."""

    def __init__(self, verdict: VerdictDocument | None, say: Callable[[str], str]) -> None:
        self._verdict = verdict
        self._say = say

    @property
    def rows(self) -> list[CodeRow]:
        return [self._row(each) for each in self._codes if not _parts_none(each)]

    @property
    def parting_none(self) -> str:
        """The codes whose monitors passed under all that is left, in a list."""
        return listed([code_title(each) for each in self._codes if _parts_none(each)])

    @property
    def _codes(self) -> tuple[CodeEvidence, ...]:
        return self._verdict.codes if self._verdict is not None else ()

    def _row(self, evidence: CodeEvidence) -> CodeRow:
        assert self._verdict is not None
        before = self._verdict.before
        told = statements(
            evidence,
            self._say,
            claim=self._verdict.claim,
            has_readings=before is not None and bool(before.findings),
        )
        return CodeRow(
            title=code_title(evidence),
            standing=code_standing(evidence),
            words=evidence.words,
            conditions=evidence.conditions,
            mark=code_mark(evidence),
            told=tuple(map(_told, told)),
        )

    @property
    def together(self) -> list[Told]:
        """What codes that were set together say."""
        found = self._verdict.code_set if self._verdict is not None else None
        return [_told(each) for each in set_statements(found, self._say)] if found else []

    @property
    def shared(self) -> SharedRows | None:
        """What they share, if anything."""
        found = self._verdict.code_set if self._verdict is not None else None
        rows = [self._shared(each) for each in (found.shared if found else ())]
        if not rows:
            return None
        causes = tuple(row for row in rows if row.faults)
        return SharedRows(causes=causes, others=tuple(row for row in rows if not row.faults))

    def _shared(self, shared: SharedByCodes) -> SharedRow:
        return SharedRow(
            words=shared_words(shared),
            faults=tuple(map(self._say, shared.suspects)),
            passed=passed_words(shared),
        )


def _parts_none(evidence: CodeEvidence) -> bool:
    passed = not evidence.is_set and not evidence.silent
    return passed and not evidence.sets and not evidence.may_set


def _told(statement: Statement) -> Told:
    return Told(
        lead=statement.lead,
        first=statement.faults[:MOST_SHOWN],
        rest=statement.faults[MOST_SHOWN:],
    )
