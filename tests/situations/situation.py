"""What a situation is, and what may be asked of the verdict on it."""

from collections.abc import Callable
from dataclasses import dataclass, field

from cases.documents.verdicts import VerdictDocument
from tests.cast import LIBRARY

Reading = dict[str, object]
FITS, CANNOT_SAY, DOES_NOT_FIT = "fits", "cannot say", "does not fit"


def at_place(place: str, phase: str, text: str, **rest: object) -> Reading:
    return {"place": place, "phase": phase, "text": text, **rest}


def in_phase(phase: str, **shown: str) -> tuple[Reading, ...]:
    return tuple(at_place(place, phase, text) for place, text in shown.items())


def always(_: VerdictDocument) -> bool:
    return True


@dataclass(frozen=True, kw_only=True)
class Situation:
    """A case and what must be said of it.

    `fact` names the test. `fits_too` are rivals that must be named, `excluded` faults that must
    not be said to fit, `in_order` whether the circuit in order gives the readings too. `says` are
    words of page and command, `shows` the same in the document of REST; `never` stands nowhere.
    """

    fact: str
    circuit: str
    readings: tuple[Reading, ...]
    claim: str
    outcome: str
    in_order: bool = False
    fits_too: tuple[str, ...] = ()
    excluded: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    shows: Callable[[VerdictDocument], bool] = field(default=always)
    never: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The circuit in the text form."""
        if "\n" in self.circuit:
            return self.circuit
        return (LIBRARY / f"{self.circuit}.txt").read_text(encoding="utf-8")


def meant_as(kind: str, *, place: str = "", phase: str = "") -> Callable[[VerdictDocument], bool]:
    """Return whether a verdict offers this slip first, at this place or in this phase."""

    def offered(verdict: VerdictDocument) -> bool:
        slips = verdict.before.mended if verdict.before is not None else ()
        return any(
            slip.kind == kind and place in ("", slip.place) and phase in ("", slip.phase)
            for slip in slips
        )

    return offered


def seen_from(*severities: float | None) -> Callable[[VerdictDocument], bool]:
    """Return whether the mildest that each reading could have shown is so to a fiftieth."""

    def told(verdict: VerdictDocument) -> bool:
        assert verdict.before is not None
        assert verdict.before.claim is not None
        found = verdict.before.claim.least_seen
        return len(found) == len(severities) and all(
            (one is None) == (other is None)
            and (one is None or other is None or abs(one - other) <= other / 50)
            for one, other in zip(found, severities, strict=True)
        )

    return told


def noted(words: str) -> Callable[[VerdictDocument], bool]:
    def told(verdict: VerdictDocument) -> bool:
        assert verdict.before is not None
        return any(words in note for note in verdict.before.notes)

    return told


def chatters(verdict: VerdictDocument) -> bool:
    """Battery at 12.6 V: with the solenoid in the stalled motor pulls it below 4 V, out above 9."""
    claim = verdict.before.claim if verdict.before is not None else None
    return claim is not None and any(each.low < 4 and each.high > 9 for each in claim.chatter)


def needs_two(verdict: VerdictDocument) -> bool:
    pairs = verdict.before.pairs if verdict.before is not None else None
    ends = [{pair.first.suspect, pair.second.suspect} for pair in pairs or ()]
    return {"resistance:lampLOWL", "resistance:WgR"} in ends


def parted_by_amps(verdict: VerdictDocument) -> bool:
    twins = verdict.before.twins if verdict.before is not None else ()
    return any("K1.coil" in group.clamps for group in twins)


def nothing_heard(verdict: VerdictDocument) -> bool:
    return (
        verdict.before is not None and not verdict.before.readings and len(verdict.set_aside) == 3
    )


def spans(low: float, high: float) -> Callable[[VerdictDocument], bool]:
    def told(verdict: VerdictDocument) -> bool:
        claim = verdict.before.claim if verdict.before is not None else None
        ends = (claim.severity_low, claim.severity_high) if claim is not None else (None, None)
        return None not in ends and ends[0] <= low and ends[1] >= high  # type: ignore[operator]

    return told


def falling(verdict: VerdictDocument) -> bool:
    claim = verdict.before.claim if verdict.before is not None else None
    found = [least or 0.0 for least in claim.least_seen] if claim is not None else []
    return len(found) == 3 and found[0] > 10 > found[1] > 2 * found[2] > 0
