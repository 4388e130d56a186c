"""What a later verdict says otherwise than an earlier one on the same readings, in sentences."""

from collections.abc import Iterator

from cases.documents.verdicts import FindingDocument, Judgement, VerdictDocument
from cases.judging.verdict import DOES_NOT_FIT, FITS

MOST_NAMED = 5


def verdict_changes(
    earlier: VerdictDocument, later: VerdictDocument, *, counts: bool = False
) -> tuple[str, ...]:
    """Return what changed; empty where both say the same, whatever the figures behind it.

    `counts` words it for a later verdict that counts already, not for one that would.
    """
    return tuple(_changes(earlier, later, WordsNow() if counts else WordsWould()))


class WordsWould:
    """How a verdict is put that nobody has taken over yet."""

    outcome = "{name}: it was '{earlier}' and would be '{later}'{because}."
    severity = "{name}: {later} would be needed, not {earlier}."


class WordsNow(WordsWould):
    """How a verdict is put that counts."""

    outcome = "{name}: it was '{earlier}' and is '{later}' now{because}."
    severity = "{name}: {later} is needed now, not {earlier}."


def _changes(earlier: VerdictDocument, later: VerdictDocument, words: WordsWould) -> Iterator[str]:
    if later.failure != earlier.failure:
        yield later.failure or f"What could not be judged now can: {earlier.failure}"
    yield from _of_judgement(earlier.before, later.before, words)
    if earlier.after is not None and later.after is not None:
        yield from _of_finding(
            "After the repair, ", earlier.after.healthy, later.after.healthy, words
        )
        yield from _of_finding("After the repair, ", earlier.after.claim, later.after.claim, words)
    silent = {aside.number: aside for aside in earlier.set_aside}
    for aside in later.set_aside:
        if aside.number not in silent:
            yield f"{aside.place} in '{aside.phase}' no longer counts: {aside.because}."
    still_silent = {aside.number for aside in later.set_aside}
    for aside in earlier.set_aside:
        if aside.number not in still_silent:
            yield f"{aside.place} in '{aside.phase}' counts now."


def _of_judgement(
    earlier: Judgement | None, later: Judgement | None, words: WordsWould
) -> Iterator[str]:
    if earlier is None or later is None:
        return
    yield from _of_finding("", _same_suspect(earlier, later.claim), later.claim, words)
    yield from _of_finding("", earlier.healthy, later.healthy, words)
    if later.nothing_fits and not earlier.nothing_fits:
        yield "No single fault fits the readings any more."
    claimed = later.claim.suspect if later.claim is not None else ""
    before = {finding.suspect: finding for finding in earlier.findings}
    after = {finding.suspect: finding for finding in later.findings}
    possible = [
        finding.words
        for name, finding in after.items()
        if name != claimed and _possible(finding) and not _possible(before.get(name))
    ]
    excluded = [
        finding.words
        for name, finding in before.items()
        if name != claimed and _possible(finding) and not _possible(after.get(name))
    ]
    if possible:
        yield f"Now possible as well: {_listed(possible)}."
    if excluded:
        yield f"No longer possible: {_listed(excluded)}."


def _listed(words: list[str]) -> str:
    more = len(words) - MOST_NAMED
    return "; ".join(words[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")


def _possible(finding: FindingDocument | None) -> bool:
    return finding is not None and finding.outcome != DOES_NOT_FIT


def _same_suspect(earlier: Judgement, claim: FindingDocument | None) -> FindingDocument | None:
    """Return what was said earlier of the fault that is claimed now, claimed then or not."""
    listed = (*earlier.findings, *((earlier.claim,) if earlier.claim is not None else ()))
    return next(
        (each for each in listed if claim is not None and each.suspect == claim.suspect), None
    )


def _of_finding(
    where: str,
    earlier: FindingDocument | None,
    later: FindingDocument | None,
    words: WordsWould,
) -> Iterator[str]:
    if earlier is None or later is None:
        return
    name = f"{where}{later.words}"
    if earlier.outcome != later.outcome:
        because = f" – {later.because}" if later.because else ""
        yield words.outcome.format(
            name=name, earlier=earlier.outcome, later=later.outcome, because=because
        )
    elif later.outcome == FITS and _apart(earlier, later):
        yield words.severity.format(
            name=name, earlier=earlier.severity_words, later=later.severity_words
        )


def _apart(earlier: FindingDocument, later: FindingDocument) -> bool:
    """Return whether the severities that both allow have none in common."""
    ends = (earlier.severity_low, earlier.severity_high, later.severity_low, later.severity_high)
    if any(end is None for end in ends):
        return False
    one_low, one_high, other_low, other_high = (float(end) for end in ends if end is not None)
    return max(one_low, one_high) < min(other_low, other_high) or max(other_low, other_high) < min(
        one_low, one_high
    )
