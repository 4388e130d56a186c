"""What a later verdict says otherwise than an earlier one on the same readings, in sentences."""

from collections.abc import Iterator

from cases.documents import FindingDocument, Judgement, VerdictDocument
from cases.judging import DOES_NOT_FIT, FITS

MOST_NAMED = 5


def verdict_changes(earlier: VerdictDocument, later: VerdictDocument) -> tuple[str, ...]:
    """Return what changed; empty where both say the same, whatever the figures behind it."""
    return tuple(_changes(earlier, later))


def _changes(earlier: VerdictDocument, later: VerdictDocument) -> Iterator[str]:
    if later.failure != earlier.failure:
        yield later.failure or f"What could not be judged now can: {earlier.failure}"
    yield from _of_judgement(earlier.before, later.before)
    if earlier.after is not None and later.after is not None:
        yield from _of_finding("After the repair, ", earlier.after.healthy, later.after.healthy)
        yield from _of_finding("After the repair, ", earlier.after.claim, later.after.claim)
    silent = {aside.number: aside for aside in earlier.set_aside}
    for aside in later.set_aside:
        if aside.number not in silent:
            yield f"{aside.place} in '{aside.phase}' no longer counts: {aside.because}."
    still_silent = {aside.number for aside in later.set_aside}
    for aside in earlier.set_aside:
        if aside.number not in still_silent:
            yield f"{aside.place} in '{aside.phase}' counts now."


def _of_judgement(earlier: Judgement | None, later: Judgement | None) -> Iterator[str]:
    if earlier is None or later is None:
        return
    yield from _of_finding("", earlier.claim, later.claim)
    yield from _of_finding("", earlier.healthy, later.healthy)
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


def _of_finding(
    where: str, earlier: FindingDocument | None, later: FindingDocument | None
) -> Iterator[str]:
    if earlier is None or later is None:
        return
    name = f"{where}{later.words}"
    if earlier.outcome != later.outcome:
        because = f" – {later.because}" if later.because else ""
        yield f"{name}: it was '{earlier.outcome}' and would be '{later.outcome}'{because}."
    elif later.outcome == FITS and _apart(earlier, later):
        yield f"{name}: {later.severity_words} would be needed, not {earlier.severity_words}."


def _apart(earlier: FindingDocument, later: FindingDocument) -> bool:
    """Return whether the severities that both allow have none in common."""
    ends = (earlier.severity_low, earlier.severity_high, later.severity_low, later.severity_high)
    if any(end is None for end in ends):
        return False
    one_low, one_high, other_low, other_high = (float(end) for end in ends if end is not None)
    return max(one_low, one_high) < min(other_low, other_high) or max(other_low, other_high) < min(
        one_low, one_high
    )
