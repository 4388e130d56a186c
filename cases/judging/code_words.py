"""What codes say of the suspects, in sentences for pages and commands alike."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from cases.documents.codes import CodeEvidence, CodeSet, SharedByCodes

#: Says a suspect in words: its id, or trade words.
Words = Callable[[str], str]
CAUSE_OUTSIDE = (
    "No single fault of this drawing sets it: look at what an earlier repair or a flat battery "
    "left, at a part outside the drawing, and at the drawing itself"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A sentence without its full stop, and the faults that it is about."""

    lead: str
    faults: tuple[str, ...] = ()


def code_title(evidence: CodeEvidence) -> str:
    """Return a code with its failure type, as it is written."""
    return f"{evidence.code}-{evidence.failure_type}" if evidence.failure_type else evidence.code


def code_standing(evidence: CodeEvidence) -> str:
    """Return how a code stood, and which module gave it."""
    if not evidence.is_set:
        return "not set, and its monitor ran"
    told = [evidence.status or "set", *([evidence.module] if evidence.module else [])]
    if evidence.failure_words:
        told.append(evidence.failure_words)
    return ", ".join(told)


def code_mark(evidence: CodeEvidence) -> Literal["fits", "does-not-fit", "cannot-say"]:
    """Return how a code stands to what is left: explained, not explained, or saying nothing."""
    if evidence.silent:
        return "cannot-say"
    return "fits" if evidence.explains else "does-not-fit"


def statements(
    evidence: CodeEvidence, words: Words, *, claim: str = "", has_readings: bool = True
) -> Iterator[Statement]:
    """Yield what one code says."""

    def about(lead: str, names: Sequence[str]) -> Iterator[Statement]:
        # Of the claim its own sentence tells.
        others = [name for name in names if name != claim]
        if others:
            yield Statement(lead=lead, faults=tuple(map(words, others)))

    if evidence.silent:
        yield Statement(lead=f"Says nothing of the readings: {evidence.silent}")
    elif evidence.is_set:
        yield from _when_set(evidence, about, words, claim, has_readings)
    else:
        yield from _when_passed(evidence, about, words, claim, has_readings)
    if evidence.of_its_kind:
        kind = evidence.failure_words
        yield from about(f"Its failure type means {kind}; of that kind are", evidence.of_its_kind)
    elif evidence.explains and evidence.failure_words == "intermittent":
        yield Statement(
            lead="Its failure type says that it comes and goes: read with the symptom there"
        )


_About = Callable[[str, Sequence[str]], Iterator[Statement]]


def _when_set(
    evidence: CodeEvidence, about: _About, words: Words, claim: str, has_readings: bool
) -> Iterator[Statement]:
    if claim and evidence.claim:
        yield Statement(lead=f"The claim, {words(claim)}, {evidence.claim}")
    if evidence.is_unexplained and has_readings:
        yield Statement(lead="No fault that fits the readings sets it")
    if evidence.is_unexplained and not evidence.excluded_that_set:
        yield Statement(lead=CAUSE_OUTSIDE)
    if evidence.is_unexplained:
        yield from about("The readings exclude those that would", evidence.excluded_that_set)
    if evidence.healthy != "does not set it":
        yield Statement(lead=f"By this drawing the circuit in order {evidence.healthy} as well")
    yield from about("These set it", evidence.sets)
    yield from about("These may set it, by their severity or by tolerance", evidence.may_set)
    if has_readings:
        yield from about("Fit the readings and do not set it", evidence.does_not_set)
    elif evidence.does_not_set and evidence.explains:
        yield Statement(lead=f"The other {len(evidence.does_not_set)} faults do not set it")


def _when_passed(
    evidence: CodeEvidence, about: _About, words: Words, claim: str, has_readings: bool
) -> Iterator[Statement]:
    if claim and evidence.claim:
        said = {
            "sets it": "would have set it",
            "may set it": "may have left it unset",
            "does not set it": "would not have set it",
        }[evidence.claim]
        yield Statement(lead=f"The claim, {words(claim)}, {said}")
    fit = "Fit the readings, but would have set it" if has_readings else "These would have set it"
    yield from about(fit, evidence.sets)
    yield from about("These would have set it at some severity or in some phase", evidence.may_set)
    if not evidence.sets and not evidence.may_set:
        yield Statement(lead="None of the faults that are left would have set it, so it parts none")


def set_statements(together: CodeSet, words: Words) -> Iterator[Statement]:
    """Yield what codes that were set together say."""
    codes = listed(together.codes)
    if together.modules and len(together.modules) > 1:
        codes = f"{codes}, from {listed(together.modules)},"
    if together.suspects:
        yield Statement(
            lead=f"{codes} have one cause if it is one of these, each of which sets them all",
            faults=tuple(map(words, together.suspects)),
        )
    else:
        yield Statement(lead=f"No single fault that is left is seen to set {codes} together")


def shared_words(shared: SharedByCodes) -> str:
    """Return what codes share, in words."""
    words = f"{shared.kind} {shared.name}"
    return f"{words}, {shared.words}" if shared.words else words


def passed_words(shared: SharedByCodes) -> str:
    """Return which codes hang on it and passed; empty where none does."""
    if not shared.passed:
        return ""
    hang = "hangs" if len(shared.passed) == 1 else "hang"
    return f"{listed(shared.passed)} {hang} on it too, and the monitor passed"


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence.

    >>> from cases.judging.code_words import listed
    >>> listed(["P0642", "P0192", "P0532"])
    'P0642, P0192 and P0532'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
