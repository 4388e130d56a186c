"""What the page of a case shows, put together from the view its reader may have."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from cases.circuit import CaseCircuit
from cases.documents.verdicts import FindingDocument, PartingReading, SlipDocument, TwinGroup
from cases.judging.blind_spots import chatter_words, unseen_words
from cases.judging.meant import meant_words
from cases.judging.pairs import PairGroup, explained_words, grouped
from cases.models import HEALTHY, HELD, EarnedStanding, Stage
from cases.services.sharing import CaseView, ReadingView
from cases.views.range_bars import RangeBars, range_bars
from cases.views.reading_words import (
    DOES_NOT_FIT,
    phase_words,
    place_label,
    reading_tags,
    rig_words,
    severity_words,
    shown,
    typed_words,
    unit_at,
)
from cases.views.scale import Scale, scale_of
from circuits.cautions import heat_warning

MOST_PARTINGS = 4
RUNGS = (
    EarnedStanding.NOTE.value,
    EarnedStanding.CLAIMED.value,
    EarnedStanding.CONSISTENT.value,
    EarnedStanding.PROVEN.value,
    EarnedStanding.VERIFIED.value,
    HELD,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """A reading as a line of the table."""

    reading: ReadingView
    label: str
    typed: str
    done: str
    tags: tuple[str, ...]
    healthy: str
    healthy_distance: float | None
    claimed: str
    claimed_distance: float | None
    scale: Scale | None
    decided: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseRows:
    """The readings of one phase."""

    words: str
    rows: tuple[ReadingRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """What the readings say of one fault, in words."""

    suspect: str
    words: str
    outcome: str
    severity: str
    because: str
    heat: str
    blown: str = ""

    @property
    def mark(self) -> str:
        return self.outcome.replace(" ", "-")


@dataclass(frozen=True, slots=True, kw_only=True)
class RivalGroup:
    """Faults that fit and that no listed place parts; `between` are points where a lead would."""

    rows: tuple[FindingRow, ...]
    between: tuple[str, ...]
    clamps: tuple[str, ...] = ()

    @property
    def severity(self) -> str:
        """The severity, where all of them need the same."""
        severities = {row.severity for row in self.rows}
        return severities.pop() if len(severities) == 1 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartingRow:
    """A reading that parts faults, with what each of them would show there."""

    place: str
    phase: str
    outcomes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipRow:
    """A reading that may have slipped: as typed, what it would have to be, who can confirm it."""

    place: str
    phase: str
    typed: str
    would_be: str
    fits: tuple[str, ...]
    by: str
    pk: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplainedRow:
    """A reading, what both faults of a pair would show, and which of them answers for it."""

    place: str
    phase: str
    typed: str
    predicted: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairRow:
    """Pairs of faults that share partners, with the readings as the best of them explains them."""

    group: PairGroup
    readings: tuple[ExplainedRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One step of the standing."""

    word: str
    reached: bool
    here: bool


class CaseSheet:
    """A case as its page shows it."""

    def __init__(self, view: CaseView, circuit: CaseCircuit | None) -> None:
        self.view = view
        self.circuit = circuit
        self._before = view.verdict.before if view.verdict is not None else None
        self._after = view.verdict.after if view.verdict is not None else None

    @property
    def refusal(self) -> str:
        """Why nothing is proposed here, also beside verdicts kept from before it was known."""
        return self.circuit.refusal if self.circuit is not None else ""

    # ---------------------------------------------------------------------- readings

    @cached_property
    def before(self) -> list[PhaseRows]:
        """The readings from before the repair, by phase in the order of the circuit."""
        return self._by_phase(Stage.BEFORE)

    @cached_property
    def after(self) -> list[PhaseRows]:
        return self._by_phase(Stage.AFTER)

    @property
    def corrected(self) -> list[ReadingRow]:
        """The lines that a newer line corrects; they stay in sight."""
        return [self._row(reading) for reading in self.view.readings if reading.corrected]

    @property
    def set_aside(self) -> list[ReadingRow]:
        return [self._row(reading) for reading in self.view.current_readings if reading.set_aside]

    def _by_phase(self, stage: Stage) -> list[PhaseRows]:
        order = list(self.circuit.phases) if self.circuit is not None else []
        taken: dict[str, list[ReadingRow]] = {phase: [] for phase in order}
        for reading in self.view.current_readings:
            if reading.stage == stage:
                taken.setdefault(reading.phase, []).append(self._row(reading))
        return [
            PhaseRows(words=self._phase_words(phase), rows=tuple(rows))
            for phase, rows in taken.items()
            if rows
        ]

    def _row(self, reading: ReadingView) -> ReadingRow:
        unit = self._shown_unit(reading)
        return ReadingRow(
            reading=reading,
            label=self._place_label(reading.place),
            typed=typed_words(reading),
            done=rig_words(reading.rig),
            tags=reading_tags(reading),
            healthy=shown(reading.healthy, unit),
            healthy_distance=reading.healthy_distance,
            claimed=shown(reading.claimed, unit),
            claimed_distance=reading.claimed_distance,
            scale=scale_of(reading),
            decided=reading.pk in self._deciding,
        )

    @cached_property
    def _deciding(self) -> set[int | None]:
        decided = {self._claim.deciding} if self._claim is not None else set()
        if self._after is not None:
            decided.add(self._after.healthy.deciding)
        return decided - {None}

    def _place_label(self, key: str) -> str:
        return place_label(self.circuit, key)

    def _shown_unit(self, reading: ReadingView) -> str:
        entry = self.circuit.entry_at(reading.place) if self.circuit is not None else None
        return entry.unit if entry is not None else reading.unit

    def _phase_words(self, key: str) -> str:
        return phase_words(self.circuit, key)

    # ----------------------------------------------------------------------- verdict

    @cached_property
    def _claim(self) -> FindingDocument | None:
        if self._before is None:
            return None
        if self.view.claim == HEALTHY:
            return self._before.healthy
        return self._before.claim

    @property
    def claim(self) -> FindingRow | None:
        return self._finding(self._claim) if self._claim is not None else None

    @property
    def healthy(self) -> FindingRow | None:
        return self._finding(self._before.healthy) if self._before is not None else None

    @property
    def healthy_after(self) -> FindingRow | None:
        return self._finding(self._after.healthy) if self._after is not None else None

    @property
    def bars(self) -> RangeBars | None:
        """The reading that decided on the claim, or on the circuit in order, drawn."""
        if self._before is None:
            return None
        return range_bars(self._before, self._claim or self._before.healthy, self.circuit)

    @property
    def bars_after(self) -> RangeBars | None:
        """The reading after the repair that lies farthest from the circuit in order."""
        if self._after is None:
            return None
        return range_bars(self._after, self._after.healthy, self.circuit)

    @property
    def judged(self) -> bool:
        return self._before is not None

    @property
    def notes(self) -> tuple[str, ...]:
        if self._before is None:
            return ()
        restless = chatter_words(self.circuit, self._before) if self.circuit is not None else ()
        return (*self._before.notes, *restless)

    @property
    def unseen(self) -> list[str]:
        """How small a fault each reading could have shown, where none of them can say."""
        if self._before is None or self.circuit is None:
            return []
        return list(unseen_words(self.circuit, self._before))

    @property
    def meant(self) -> list[str]:
        """What readings may have been meant as, although a fault fits them as they are."""
        if self._before is None or self.circuit is None or self.nothing_fits:
            return []
        taken = {reading.number: reading for reading in self._before.readings}
        return [meant_words(self.circuit, slip, taken[slip.number]) for slip in self._before.mended]

    @property
    def in_order_too(self) -> bool:
        """Whether the circuit in order gives the readings as well, so that no fault is shown."""
        return self._before is not None and self._before.healthy.outcome != DOES_NOT_FIT

    @property
    def nothing_fits(self) -> bool:
        return self._before is not None and self._before.nothing_fits

    @property
    def nothing_left(self) -> bool:
        """Whether every reading was taken without the symptom, so that none is left to judge."""
        return self._before is not None and not self._before.readings

    @property
    def slips(self) -> list[SlipRow]:
        """Single readings without which something fits, where nothing fits them all."""
        return [self._slip(slip) for slip in (self._before.slips if self._before else ())]

    def _slip(self, slip: SlipDocument) -> SlipRow:
        taken = next((each for each in self.view.readings if each.pk == slip.number), None)
        return SlipRow(
            place=f"{slip.place} {self._place_label(slip.place)}".strip(),
            phase=self._phase_words(slip.phase),
            typed=typed_words(taken) if taken is not None and not slip.noted else slip.text,
            would_be=shown(slip.predicted, self._unit_at(slip.place)),
            fits=tuple(map(self.suspect_words, slip.fits)),
            by=taken.by if taken is not None else "",
            pk=slip.number,
        )

    @cached_property
    def pairs(self) -> list[PairRow]:
        """Two faults at once, where no single one fits: pairs that share partners together."""
        found = self._before.pairs if self._before is not None else None
        return [self._pair(group) for group in grouped(found or ())]

    def _pair(self, group: PairGroup) -> PairRow:
        assert self._before is not None
        by_pk = {reading.pk: reading for reading in self.view.readings}
        rows = []
        for number, reading in enumerate(self._before.readings):
            taken = by_pk.get(reading.number)
            rows.append(
                ExplainedRow(
                    place=reading.place,
                    phase=self._phase_words(reading.phase),
                    typed=typed_words(taken) if taken and not reading.noted else reading.text,
                    predicted=shown(group.best.predicted[number], self._unit_at(reading.place)),
                    words=explained_words(group.best, number),
                )
            )
        return PairRow(group=group, readings=tuple(rows))

    @cached_property
    def rivals(self) -> list[RivalGroup]:
        """What fits beside the claim: first the claim's own twins, then the other groups."""
        if self._before is None:
            return []
        left = {
            finding.suspect: finding
            for finding in self._before.findings
            if finding.outcome != DOES_NOT_FIT
        }
        groups = []
        for twins in sorted(self._before.twins, key=self._claims_twins_first):
            together = [left.pop(name) for name in twins.suspects if name in left]
            groups.append(self._group(together, twins))
        groups.extend(self._group([finding], None) for finding in left.values())
        return [group for group in groups if group.rows]

    def _claims_twins_first(self, twins: TwinGroup) -> bool:
        return self.view.claim not in twins.suspects

    def _group(self, findings: Iterable[FindingDocument], twins: TwinGroup | None) -> RivalGroup:
        rows = tuple(self._finding(f) for f in findings if f.suspect != self.view.claim)
        barred = self.circuit.barred if self.circuit is not None else frozenset()
        if twins is None or self.refusal:
            return RivalGroup(rows=rows, between=())
        nodes = (node for node in twins.between if node not in barred)
        return RivalGroup(
            rows=rows,
            between=tuple(map(self._connection_words, nodes)),
            clamps=tuple(part for part in twins.clamps if part not in barred),
        )

    @property
    def rival_count(self) -> int:
        return sum(len(group.rows) for group in self.rivals)

    @property
    def excluded(self) -> list[FindingRow]:
        if self._before is None:
            return []
        return [
            self._finding(finding)
            for finding in self._before.findings
            if finding.outcome == DOES_NOT_FIT and finding.suspect != self.view.claim
        ]

    @cached_property
    def partings(self) -> list[PartingRow]:
        """The listed readings that would part what still fits, the one that parts most first."""
        if self.refusal:
            return []
        by_spot: dict[tuple[str, str], list[PartingReading]] = {}
        for parting in self._before.partings if self._before is not None else ():
            by_spot.setdefault((parting.place, parting.phase), []).append(parting)
        ranked = sorted(by_spot.items(), key=lambda spot: -len(spot[1]))
        return [self._parting(*spot, pairs) for spot, pairs in ranked[:MOST_PARTINGS]]

    def _parting(self, place: str, phase: str, pairs: list[PartingReading]) -> PartingRow:
        values: dict[str, float] = {}
        for pair in pairs:
            values |= {pair.first: pair.first_value, pair.second: pair.second_value}
        unit = self._unit_at(place)
        return PartingRow(
            place=f"{place} {self._place_label(place)}",
            phase=self._phase_words(phase),
            outcomes=tuple(
                (self.suspect_words(suspect), shown(value, unit))
                for suspect, value in sorted(values.items(), key=lambda entry: entry[1])
            ),
        )

    def _unit_at(self, place: str) -> str:
        return unit_at(self.circuit, place)

    def suspect_words(self, suspect: str) -> str:
        """Return a fault in trade words."""
        if suspect == HEALTHY or self.circuit is None:
            return "the circuit in order"
        found = self.circuit.suspects.get(suspect)
        return found.describe() if found is not None else suspect

    def _connection_words(self, node: str) -> str:
        if self.circuit is None:
            return node
        label = next((c.label for c in self.circuit.sheet.connections if c.node == node), "")
        return f"{node} ({label})" if label else node

    def _finding(self, finding: FindingDocument) -> FindingRow:
        target = finding.suspect.partition(":")[2]
        return FindingRow(
            suspect=finding.suspect,
            words=finding.words,
            outcome=finding.outcome,
            severity=severity_words(finding),
            because=finding.because,
            heat=heat_warning(self._kind_of(target), finding.watts),
            blown=", ".join(finding.overloads),
        )

    def _kind_of(self, target: str) -> str:
        if self.circuit is None:
            return ""
        return next((part.kind for part in self.circuit.sheet.parts if part.name == target), "")

    # ---------------------------------------------------------------------- standing

    @property
    def rungs(self) -> list[Rung]:
        """The steps of the standing, up to where the record has earned it."""
        word = self.view.standing_word
        top = RUNGS.index(word) if word in RUNGS else 0
        return [
            Rung(
                word=rung,
                # A verified case need not be proven: rivals may be left that the repair cured too.
                reached=number <= top
                and (rung != EarnedStanding.PROVEN or self.view.standing.is_proven),
                here=rung == word,
            )
            for number, rung in enumerate(RUNGS)
        ]

    @property
    def earned_by(self) -> list[str]:
        """The readings that earned the standing, in words."""
        by_pk = {reading.pk: reading for reading in self.view.readings}
        return [
            f"{by_pk[pk].place} in “{self._phase_words(by_pk[pk].phase)}”: {typed_words(by_pk[pk])}"
            for pk in self.view.standing.earned_by
            if pk in by_pk
        ]

    @property
    def twins(self) -> list[str]:
        return [self.suspect_words(name) for name in self.view.standing.twins]

    # ------------------------------------------------------------------------- facts

    @property
    def complaint_phase(self) -> str:
        return self._phase_words(self.view.complaint_phase) if self.view.complaint_phase else ""
