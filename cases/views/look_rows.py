"""What the page of a case shows where nothing fits: what to look at, in order, and why."""

from dataclasses import dataclass

from cases.documents.looks import QUESTIONS, Look
from cases.documents.verdicts import VerdictDocument


@dataclass(frozen=True, slots=True, kw_only=True)
class LookRow:
    """One thing to look at; `speaks` is what of the record speaks for it."""

    question: str
    speaks: tuple[str, ...]
    is_reading: bool
    is_pair: bool


def look_rows(verdict: VerdictDocument | None) -> list[LookRow]:
    """Return what to look at; a verdict from before it was told has the questions alone."""
    if verdict is None or verdict.before is None or not verdict.before.nothing_fits:
        return []
    told = {each.look: each.speaks for each in verdict.look_at}
    # The readings that stand alone in the way are shown as such beside the question.
    shown = len(verdict.before.slips)
    return [
        LookRow(
            question=question,
            speaks=told.get(look, ())[shown if look is Look.READING else 0 :],
            is_reading=look is Look.READING,
            is_pair=look is Look.PAIR,
        )
        for look, question in QUESTIONS.items()
    ]
