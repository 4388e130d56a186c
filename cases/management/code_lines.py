"""What the codes of a case say, as lines of a terminal; suspects by their ids."""

from collections.abc import Iterator

from cases.documents.verdicts import VerdictDocument
from cases.judging.code_words import (
    Statement,
    code_standing,
    code_title,
    passed_words,
    set_statements,
    shared_words,
    statements,
)


def code_lines(verdict: VerdictDocument) -> Iterator[str]:
    """Yield what each code says of the suspects, and what those that are set share."""
    if not verdict.codes:
        return
    before = verdict.before
    has_readings = before is not None and bool(before.findings)
    yield ""
    yield "Codes"
    for each in verdict.codes:
        words = f": {each.words}" if each.words else ""
        yield f"  {code_title(each)} ({code_standing(each)}){words}"
        for condition in each.conditions:
            yield f"    Sets if {condition}."
        told = statements(each, str, claim=verdict.claim, has_readings=has_readings)
        yield from (f"    {_said(statement)}" for statement in told)
    together = verdict.code_set
    if together is not None:
        yield ""
        yield "Codes set together"
        yield from (f"  {_said(statement)}" for statement in set_statements(together, str))
        for shared in sorted(together.shared, key=lambda each: not each.suspects):
            there = f": {', '.join(shared.suspects)}" if shared.suspects else ""
            passed = f" ({passed_words(shared)})" if shared.passed else ""
            yield f"  They share {shared_words(shared)}{passed}{there}."


def _said(statement: Statement) -> str:
    if not statement.faults:
        return f"{statement.lead}."
    return f"{statement.lead}: {', '.join(statement.faults)}."
