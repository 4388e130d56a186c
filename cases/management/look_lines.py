"""What to look at where nothing fits, as lines of a terminal."""

from collections.abc import Iterator

from cases.documents.looks import QUESTIONS
from cases.documents.verdicts import VerdictDocument


def look_lines(verdict: VerdictDocument) -> Iterator[str]:
    """Yield what to look at, in order, each with what of the record speaks for it."""
    if not verdict.look_at:
        return
    yield "No single fault of this circuit gives these readings. Ask in this order:"
    for number, each in enumerate(verdict.look_at, start=1):
        yield f"  {number}. {QUESTIONS[each.look]}"
        for words in each.speaks:
            yield f"     {words[:1].upper()}{words[1:]}."
        if not each.speaks:
            yield "     Nothing in the record speaks for it."
