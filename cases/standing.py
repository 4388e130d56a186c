"""How well a case stands: computed from its record, never chosen.

note, claimed, consistent, proven, verified, held; doubtful and withdrawn beside them. Each step
says what the record must hold for the next, and which reading earned it:

* claimed     a fault is claimed and a reading was taken
* consistent  the claim fits the readings from before the repair with one severity, and at least
              one of them, taken under load in the phase of the complaint, is none that the car in
              order would give; nor would it give them all if only a phase or a figure was mistaken
* proven      and every rival outside the claim's twins is excluded by a reading
* verified    consistent, and the same places, phases and loads read as in the car in order after
              the repair, which the claimed fault could not; what was unplugged, bridged, pierced
              or reset is ticked off as undone
* held        verified, and no comeback within the shop's own period
* doubtful    a reading that the claim cannot explain, an after-reading that the car in order
              cannot, or a comeback

A part fitted is no evidence. A copy brings a story, not evidence.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from cases.after_work import open_undo
from cases.documents.verdicts import FindingDocument, Judgement, VerdictDocument
from cases.judging.lines import Line
from cases.judging.verdict import DOES_NOT_FIT, FITS
from cases.models.case import Case
from cases.models.choices import HEALTHY, EarnedStanding, Outcome, Stage, Statistic, SymptomPresent
from circuits.units import format_quantity

# A reading this far from the healthy prediction, in combined standard uncertainties, is one that
# the car in order would not give: two-sided 99.5 % of a normal distribution.
TELLING_DISTANCE = 2.807
# With so many clean tries after the repair, a symptom that is still there would have shown with
# this probability left over at most.
CHANCE_OF_MISSING = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a record earns: the step, what earned it, and what is missing for the next one.

    `earned_by` are numbers of readings. `rivals` are suspects that no reading excludes, twins of
    the claim left out; `twins` are those that no listed place could part from it.
    """

    earned: EarnedStanding
    because: str
    missing: tuple[str, ...] = ()
    earned_by: tuple[int, ...] = ()
    rivals: tuple[str, ...] = ()
    twins: tuple[str, ...] = ()
    is_proven: bool = False


def standing_of(
    case: Case, lines: Sequence[Line], verdict: VerdictDocument | None, *, came_back: bool
) -> Standing:
    """Return how a case stands by its record.

    `verdict` is the latest on these lines; a case without a circuit or a reading has none.
    """
    if case.withdrawn_at is not None:
        return Standing(
            earned=EarnedStanding.WITHDRAWN, because=f"Withdrawn: {case.withdrawal_reason}"
        )
    own = [line for line in lines if not line.borrowed]
    if len(own) != len(lines) and verdict is not None:
        verdict = verdict.own
    if case.copied_from_id is not None and not own:
        return Standing(
            earned=EarnedStanding.NOTE,
            because="A copy of another case; nothing was measured on this vehicle yet.",
            missing=("Take readings on this vehicle; those of the other case prove nothing here.",),
        )
    return _Record(case, own, verdict, came_back=came_back).standing()


class _Record:
    """The facts of one case that its standing rests on."""

    def __init__(
        self, case: Case, lines: Sequence[Line], verdict: VerdictDocument | None, *, came_back: bool
    ) -> None:
        self.case = case
        self.claim = case.claimed_suspect
        self.before = [line for line in lines if line.stage == Stage.BEFORE]
        self.after = [line for line in lines if line.stage == Stage.AFTER]
        self.verdict = verdict
        self.judged = verdict.before if verdict is not None else None
        self.judged_after = verdict.after if verdict is not None else None
        self.came_back = came_back
        self.open_undo = open_undo(case, lines)

    def standing(self) -> Standing:
        if not self.claim or not any(line.value is not None for line in self.before):
            return self._note()
        doubt = self._doubt()
        if doubt is not None:
            return doubt
        gaps = self._gaps_to_consistent()
        if gaps:
            return Standing(
                earned=EarnedStanding.CLAIMED,
                because="A fault is claimed, and readings were taken.",
                missing=gaps,
            )
        return self._consistent_or_better()

    # ------------------------------------------------------------------------- below

    def _note(self) -> Standing:
        missing = []
        if self.case.revision_id is None:
            missing.append("Choose the circuit.")
        if not self.claim:
            missing.append("Claim a fault.")
        if not any(line.value is not None for line in self.before):
            missing.append("Log a reading from before the repair.")
        return Standing(
            earned=EarnedStanding.NOTE, because="A story so far.", missing=tuple(missing)
        )

    def _doubt(self) -> Standing | None:
        reason, earned_by = "", _numbers()
        finding = self._claim_finding(self.judged)
        healthy_after = self.judged_after.healthy if self.judged_after is not None else None
        if self.came_back:
            reason = "The vehicle came back."
        elif finding is not None and finding.outcome == DOES_NOT_FIT:
            reason = f"The claim does not explain the readings: {finding.because}."
            earned_by = _numbers(finding.deciding)
        elif healthy_after is not None and healthy_after.outcome == DOES_NOT_FIT:
            reason = f"After the repair the circuit is not in order: {healthy_after.because}."
            earned_by = _numbers(healthy_after.deciding)
        if not reason:
            return None
        return Standing(
            earned=EarnedStanding.DOUBTFUL,
            because=reason,
            missing=("Look again: reading, phase and place first, then drawing and claim.",),
            earned_by=earned_by,
        )

    def _claim_finding(self, judgement: Judgement | None) -> FindingDocument | None:
        if judgement is None:
            return None
        return judgement.healthy if self.claim == HEALTHY else judgement.claim

    # -------------------------------------------------------------------- consistent

    def _gaps_to_consistent(self) -> tuple[str, ...]:
        finding = self._claim_finding(self.judged)
        if finding is None or self.judged is None:
            failure = self.verdict.failure if self.verdict is not None else ""
            return (failure or "No reading of the complaint speaks for or against the claim yet.",)
        if not self.judged.readings:
            return (f"{finding.because[:1].upper()}{finding.because[1:]}.",)
        gaps = []
        if finding.outcome != FITS and self.claim != HEALTHY:
            gaps.append(
                "The car in order would give these readings too: take one that it would not."
            )
        elif not self._telling():
            phase = self.case.complaint_phase
            where = f" in '{phase}', where the complaint shows" if phase else ""
            gaps.append(
                f"Take a reading under load{where}, with the symptom there, "
                "that tells the claim from the car in order."
            )
        gaps.extend(self._doubted())
        return tuple(gaps)

    def _doubted(self) -> list[str]:
        """Return what would clear up a slip that would leave the car in order.

        A figure that is read again stands against it by itself. A phase is cleared up by a reading
        that tells it from the other, or by one that is repeated in it: where no place tells the
        two apart, somebody at the key does.
        """
        if self.judged is None or self.claim == HEALTHY:
            return []
        taken = {reading.number: reading for reading in self.judged.readings}
        spots = Counter(_spot(line) for line in self.before if line.value is not None)
        repeated = {line.phase for line in self.before if spots[_spot(line)] > 1}
        asked = []
        for slip in self.judged.mended:
            written = taken.get(slip.number)
            if written is None or HEALTHY not in slip.fits or written.phase in repeated:
                continue
            where = f"{written.place} in '{written.phase}'"
            if slip.phase == written.phase:
                said = f"{where} was perhaps {slip.kind}: read it again."
            else:
                tells = f"take {slip.witness.place} there, or " if slip.witness is not None else ""
                said = (
                    f"The car in order would give what was read in '{written.phase}' if it was in "
                    f"'{slip.phase}': {tells}repeat {where} with somebody at the key."
                )
            asked.append(said)
        return asked

    def _telling(self) -> tuple[int, ...]:
        """Return the numbers of the readings that count towards consistent.

        They are taken under load, in the phase of the complaint if it is known, and are none that
        the car in order would give; for a claim that it is in order, any such reading counts.
        """
        if self.judged is None:
            return ()
        phase = self.case.complaint_phase
        return tuple(
            reading.number
            for reading, distance in zip(
                self.judged.readings, self.judged.healthy.distance, strict=True
            )
            if reading.loaded
            and not reading.noted
            and (not phase or reading.phase == phase)
            and (self.claim == HEALTHY or abs(distance) > TELLING_DISTANCE)
        )

    def _consistent_or_better(self) -> Standing:
        telling = self._telling()
        rivals, twins = self._rivals()
        found = self._severity_gap()
        is_proven = not rivals and not found
        after_gaps = self._gaps_to_verified()
        missing = list(after_gaps)
        if rivals:
            missing.append(f"Not told apart yet: {'; '.join(self._words_of(rivals))}.")
        if found:
            missing.append(found)
        if not after_gaps:
            earned, because = (
                EarnedStanding.VERIFIED,
                "After the repair the same places read as they should.",
            )
            earned_by = tuple(line.number for line in self.after if line.value is not None)
        elif is_proven:
            earned = EarnedStanding.PROVEN
            because = "The claim fits, and every rival is excluded by a reading."
            earned_by = tuple(
                dict.fromkeys((*telling, *_numbers(*self._excluding_readings(twins))))
            )
        else:
            earned = EarnedStanding.CONSISTENT
            because = "The claim fits the readings with one severity."
            earned_by = telling
        return Standing(
            earned=earned,
            because=because,
            missing=tuple(missing),
            earned_by=earned_by,
            rivals=rivals,
            twins=twins,
            is_proven=is_proven,
        )

    # ------------------------------------------------------------------------ proven

    def _rivals(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Return the suspects that no reading excludes, apart from the claim's twins; and those."""
        if self.judged is None:
            return (), ()
        twins = next(
            (group.suspects for group in self.judged.twins if self.claim in group.suspects), ()
        )
        rivals = tuple(
            finding.suspect
            for finding in self.judged.findings
            if finding.outcome != DOES_NOT_FIT
            and finding.suspect != self.claim
            and finding.suspect not in twins
        )
        return rivals, tuple(twin for twin in twins if twin != self.claim)

    def _words_of(self, suspects: tuple[str, ...]) -> list[str]:
        words = {f.suspect: f.words for f in self.judged.findings} if self.judged else {}
        return [words.get(suspect, suspect) for suspect in suspects]

    def _excluding_readings(self, twins: tuple[str, ...]) -> tuple[int | None, ...]:
        if self.judged is None:
            return ()
        return tuple(
            finding.deciding
            for finding in self.judged.findings
            if finding.outcome == DOES_NOT_FIT and finding.suspect not in twins
        )

    def _severity_gap(self) -> str:
        """Return what is wrong between the severity that was found and the one that was needed."""
        severity = self.case.claimed_severity
        finding = self._claim_finding(self.judged)
        if severity is None or finding is None or finding.severity_low is None:
            return ""
        low, high = _ordered(finding.severity_low, finding.severity_high)
        if low <= severity <= high:
            return ""
        found, least, most = (
            format_quantity(each, finding.severity_unit) for each in (severity, low, high)
        )
        return f"{found} was found, but the readings need {least} to {most}: look for the rest."

    # ---------------------------------------------------------------------- verified

    def _gaps_to_verified(self) -> tuple[str, ...]:
        if self.claim == HEALTHY:
            return ("Nothing was repaired, so there is nothing to verify.",)
        gaps = []
        if self.case.repaired_at is None or self.case.outcome != Outcome.FIXED:
            gaps.append("Record the repair and that the complaint is gone.")
        gaps.extend(self._missing_after())
        if any(line.symptom_present == SymptomPresent.YES for line in self.after):
            gaps.append("The symptom was still there after the repair.")
        if not gaps and not self._claim_gone():
            gaps.append("The claimed fault could still give the readings taken after the repair.")
        if self.open_undo:
            gaps.append(f"Undo, and tick off: {'; '.join(self.open_undo)}.")
        tries = self._tries_gap()
        if tries:
            gaps.append(tries)
        return tuple(gaps)

    def _missing_after(self) -> list[str]:
        """Return the places of telling readings that were not read again the same way."""
        taken = {_spot(line) for line in self.after if line.value is not None}
        telling = set(self._telling())
        wanted = [line for line in self.before if line.number in telling]
        missing = dict.fromkeys(_spot_words(line) for line in wanted if _spot(line) not in taken)
        if not missing:
            return []
        return [f"Read again after the repair, the same way: {', '.join(missing)}."]

    def _claim_gone(self) -> bool:
        """Return whether the fault that the before-readings need could not give the after ones."""
        before = self._claim_finding(self.judged)
        after = self._claim_finding(self.judged_after)
        if before is None or after is None or self.judged_after is None:
            return False
        if after.outcome == DOES_NOT_FIT:
            return True
        if None in (before.severity_low, after.severity_low):
            return False
        low, high = _ordered(before.severity_low, before.severity_high)
        low_after, high_after = _ordered(after.severity_low, after.severity_high)
        return high_after < low or low_after > high

    def _tries_gap(self) -> str:
        """Return how many clean tries are missing, where the symptom did not come every time."""
        tries, hits = self.case.tries_before, self.case.hits_before
        if not tries or not hits or hits >= tries:
            return ""
        needed = math.ceil(math.log(CHANCE_OF_MISSING) / math.log(1 - hits / tries))
        done = self.case.clean_tries_after or 0
        if done >= needed:
            return ""
        return (
            f"The symptom came {hits} times in {tries} tries: {needed} clean tries after the "
            f"repair are needed, {done} are logged."
        )


def _spot(line: Line) -> tuple[object, ...]:
    """Return what makes an after-reading the same as one before: place, phase, rig and figure.

    A minimum is a bound and no steady figure, so one is no proof of the other.
    """
    return line.place, line.phase, line.rig.key, line.statistic


def _spot_words(line: Line) -> str:
    figure = "" if line.statistic is Statistic.STEADY else f" ({line.statistic})"
    return f"{line.place} in '{line.phase}'{figure}"


def _numbers(*numbers: int | None) -> tuple[int, ...]:
    return tuple(dict.fromkeys(number for number in numbers if number is not None))


def _ordered(one: float | None, other: float | None) -> tuple[float, float]:
    ends = [end for end in (one, other) if end is not None]
    return min(ends), max(ends)
