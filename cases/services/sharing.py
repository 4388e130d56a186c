"""What others see of a case, and who may let them.

`shared_view` is the one way to show a case: pages, REST, files and exercises all use it, so that
VIN, plate and people stay in the shop wherever a case turns up.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib.auth.models import AnonymousUser, User
from django.db import transaction

from cases.after_work import after_lines
from cases.circuit import circuit_of
from cases.documents.cases import AfterLine, CodeFacts, VainPart, VehicleFacts
from cases.documents.readings import Instrument, Rig
from cases.documents.verdicts import VerdictDocument
from cases.errors import NotShared, NotYourCase, OwnersOnly
from cases.models import (
    HEALTHY,
    Case,
    LoggedReading,
    Membership,
    ReadingPhoto,
    Role,
    Stage,
    Statistic,
    SymptomPresent,
)
from cases.privacy import Scrubber, scrubber_for, scrubbers_for
from cases.services.record import (
    came_back,
    code_facts,
    instrument_of,
    latest_verdict,
    line_of,
    locked_for,
    rig_of,
    settle_story,
)
from cases.services.shops import role_in
from cases.standing import Standing, standing_of
from circuits.engine import EngineError


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingView:
    """A logged line as it is shown; `by` is empty where people stay out of sight.

    `healthy` and `claimed` are what the circuit in order and the claimed fault would show there,
    in the base unit, with the distance of the reading from each in combined uncertainties.
    """

    pk: int
    number: int
    place: str
    phase: str
    text: str
    unit: str
    value: float | None
    over_range: bool
    rig: Rig
    statistic: Statistic
    symptom_present: SymptomPresent
    stage: Stage
    supply_volts: float | None
    celsius: float | None
    instrument: Instrument
    note: str
    by: str
    at: datetime
    corrects: int | None
    correction_reason: str
    corrected: bool
    #: The photos of the line; for the shop of the case alone.
    photos: tuple[int, ...] = ()
    healthy: float | None = None
    healthy_distance: float | None = None
    claimed: float | None = None
    claimed_distance: float | None = None
    set_aside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseView:
    """A case as one person may see it.

    `case` says which one it is and has its circuit; what is shown of it comes from the view.
    """

    case: Case
    key: str
    shop: str
    is_own: bool
    vehicle: VehicleFacts
    system: str
    complaint: str
    symptom: str
    conditions: str
    complaint_phase: str
    tries_before: int | None
    hits_before: int | None
    clean_tries_after: int | None
    codes: tuple[CodeFacts, ...]
    monitors_passed: tuple[str, ...]
    parts_in_vain: tuple[VainPart, ...]
    claim: str
    claim_words: str
    claimed_severity: float | None
    claimed_by: str
    claimed_at: datetime | None
    part_replaced: str
    outcome: str
    what_misled: str
    what_decided: str
    author: str
    opened_at: datetime
    repaired_at: datetime | None
    closed_at: datetime | None
    shared_at: datetime | None
    withdrawal_reason: str
    readings: tuple[ReadingView, ...]
    verdict: VerdictDocument | None
    standing: Standing
    standing_word: str
    #: For the shop of the case alone.
    after_work: tuple[AfterLine, ...]

    @property
    def current_readings(self) -> tuple[ReadingView, ...]:
        """The readings that no newer line corrects."""
        return tuple(reading for reading in self.readings if not reading.corrected)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseSummary:
    """A case as a line in a list."""

    case: Case
    key: str
    shop: str
    is_own: bool
    vehicle: str
    system: str
    complaint: str
    symptom: str
    outcome: str
    standing_word: str
    opened_at: datetime


@transaction.atomic
def share_case(*, case: Case, by: User, at: datetime) -> Case:
    """Share a case with all shops on this server; they see it without VIN, plate and people."""
    case = locked_for(case, by, "share it")
    _require_author_or_owner(case, by, "share a case that someone else logged")
    if case.shared_at is None:
        case.shared_at = at
        case.shared_by = by
        case.save(update_fields=["shared_at", "shared_by"])
        # What search keeps of the text is scrubbed anew: people may have joined since.
        settle_story(case, at=at)
    return case


@transaction.atomic
def take_back_share(*, case: Case, by: User, at: datetime) -> Case:
    """Take a shared case back; from now on nobody outside the shop sees it."""
    case = locked_for(case, by, "take it back")
    _require_author_or_owner(case, by, "take back a case that someone else logged")
    if case.shared_at is None:
        raise NotShared(case.key)
    case.shared_at = None
    case.shared_by = None
    case.save(update_fields=["shared_at", "shared_by"])
    settle_story(case, at=at)
    return case


def share_preview(*, case: Case, by: User, at: datetime) -> CaseView:
    """Return the case as other shops would see it, before it is shared."""
    if not _is_own(case, by):
        raise NotYourCase("see what would be shared")
    return _view(case, at=at, is_own=False)


def shared_view(case: Case, user: User | AnonymousUser, *, at: datetime) -> CaseView:
    """Return a case as this person may see it: whole in their own shop, anonymised elsewhere.

    The case must come from `Case.objects.visible_to(user)`. Asks the database a fixed number of
    times, whatever the number of readings.
    """
    return _view(case, at=at, is_own=_is_own(case, user))


def summaries(
    cases: Iterable[Case], user: User | AnonymousUser, *, at: datetime
) -> list[CaseSummary]:
    """Return cases as lines of a list, in two queries for any number of them.

    The cases must come from `Case.objects.visible_to(user).with_facts()`.
    """
    listed = list(cases)
    own = _own_shops(user)
    scrubbers = scrubbers_for([case for case in listed if case.shop_id not in own])

    def complaint(case: Case) -> str:
        scrubber = scrubbers.get(case.pk)
        return scrubber.clean(case.complaint) if scrubber is not None else case.complaint

    return [
        CaseSummary(
            case=case,
            key=case.key,
            shop=case.shop.name,
            is_own=case.shop_id in own,
            vehicle=case.vehicle.described,
            system=case.system,
            complaint=complaint(case),
            symptom=case.get_symptom_display(),
            outcome=case.get_outcome_display(),
            standing_word=case.standing_at(at),
            opened_at=case.opened_at,
        )
        for case in listed
    ]


# -------------------------------------------------------------------------------- details


def _require_author_or_owner(case: Case, by: User, deed: str) -> None:
    if by.pk != case.author_id and role_in(case.shop, by) != Role.OWNER:
        raise OwnersOnly(case.shop.name, deed)


def _own_shops(user: User | AnonymousUser) -> frozenset[int]:
    if not user.is_authenticated:
        return frozenset()
    return frozenset(Membership.objects.filter(user=user).values_list("shop_id", flat=True))


def _is_own(case: Case, user: User | AnonymousUser) -> bool:
    return user.is_authenticated and role_in(case.shop, user) is not None


class _Voice:
    """What is said of people and in free text: everything at home, the bare facts elsewhere."""

    def __init__(self, case: Case, *, is_own: bool) -> None:
        self._scrubber: Scrubber | None = None if is_own else scrubber_for(case)

    def text(self, text: str) -> str:
        return text if self._scrubber is None else self._scrubber.clean(text)

    def person(self, person: User | None) -> str:
        return person.username if person is not None and self._scrubber is None else ""

    def instrument(self, instrument: Instrument) -> Instrument:
        """Return an instrument; what somebody calls it stays in the shop."""
        if self._scrubber is None:
            return instrument
        return instrument.model_copy(update={"name": ""})


def _view(case: Case, *, at: datetime, is_own: bool) -> CaseView:
    voice = _Voice(case, is_own=is_own)
    readings = list(LoggedReading.objects.filter(case=case).select_related("by").order_by("pk"))
    verdict = latest_verdict(case)
    corrected = {reading.corrects_id for reading in readings}
    lines = [line_of(reading) for reading in readings if reading.pk not in corrected]
    stands = standing_of(case, lines, verdict, came_back=came_back(case))
    vehicle = case.vehicle
    return CaseView(
        case=case,
        key=case.key,
        shop=case.shop.name,
        is_own=is_own,
        vehicle=VehicleFacts(
            make=vehicle.make,
            model=vehicle.model,
            year=vehicle.year,
            engine=vehicle.engine,
            plate=vehicle.plate if is_own else "",
            vin=vehicle.vin if is_own else "",
        ),
        system=case.system,
        complaint=voice.text(case.complaint),
        symptom=case.symptom,
        conditions=voice.text(case.conditions),
        complaint_phase=case.complaint_phase,
        tries_before=case.tries_before,
        hits_before=case.hits_before,
        clean_tries_after=case.clean_tries_after,
        codes=tuple(code_facts(code) for code in case.codes.all()),
        monitors_passed=tuple(case.monitors_passed),
        parts_in_vain=tuple(
            VainPart(part=voice.text(part.part), hours=part.hours)
            for part in case.parts_in_vain.all()
        ),
        claim=case.claimed_suspect,
        claim_words=claim_words(case),
        claimed_severity=case.claimed_severity,
        claimed_by=voice.person(case.claimed_by),
        claimed_at=case.claimed_at,
        part_replaced=voice.text(case.part_replaced),
        outcome=case.outcome,
        what_misled=voice.text(case.what_misled),
        what_decided=voice.text(case.what_decided),
        author=voice.person(case.author),
        opened_at=case.opened_at,
        repaired_at=case.repaired_at,
        closed_at=case.closed_at,
        shared_at=case.shared_at,
        withdrawal_reason=voice.text(case.withdrawal_reason),
        readings=_reading_views(readings, verdict, voice, _photo_pks(case) if is_own else {}),
        verdict=verdict,
        standing=replace(stands, missing=tuple(map(voice.text, stands.missing))),
        standing_word=case.standing_at(at),
        after_work=after_lines(case, lines) if is_own else (),
    )


def claim_words(case: Case) -> str:
    """Return the claimed fault in trade words, with its severity where it was measured."""
    if not case.claimed_suspect or case.revision is None:
        return ""
    if case.claimed_suspect == HEALTHY:
        return "circuit in order"
    try:
        suspect = circuit_of(case.revision).suspects[case.claimed_suspect]
        return suspect.describe(case.claimed_severity)
    except (KeyError, EngineError):
        return case.claimed_suspect


def _reading_views(
    readings: list[LoggedReading],
    verdict: VerdictDocument | None,
    voice: _Voice,
    photos: Mapping[int, Sequence[int]],
) -> tuple[ReadingView, ...]:
    numbers = {reading.pk: number for number, reading in enumerate(readings, start=1)}
    corrected = {reading.corrects_id for reading in readings}
    beside = _beside(verdict)
    aside = {entry.number: entry.because for entry in verdict.set_aside} if verdict else {}
    return tuple(
        ReadingView(
            pk=reading.pk,
            number=numbers[reading.pk],
            place=reading.place_key,
            phase=reading.phase_key,
            text=reading.text,
            unit=reading.unit,
            value=reading.value,
            over_range=reading.over_range,
            rig=rig_of(reading),
            statistic=Statistic(reading.statistic),
            symptom_present=SymptomPresent(reading.symptom_present),
            stage=Stage(reading.stage),
            supply_volts=reading.supply_volts,
            celsius=reading.celsius,
            instrument=voice.instrument(instrument_of(reading)),
            note=voice.text(reading.note),
            by=voice.person(reading.by),
            at=reading.at,
            corrects=numbers.get(reading.corrects_id) if reading.corrects_id else None,
            correction_reason=voice.text(reading.correction_reason),
            corrected=reading.pk in corrected,
            photos=tuple(photos.get(reading.pk, ())),
            set_aside=aside.get(reading.pk, ""),
            **beside.get(reading.pk, {}),
        )
        for reading in readings
    )


def _photo_pks(case: Case) -> dict[int, list[int]]:
    """Return the photos of the readings of a case, by reading."""
    found: dict[int, list[int]] = {}
    photos = ReadingPhoto.objects.filter(reading__case=case).order_by("pk")
    for reading_pk, pk in photos.values_list("reading_id", "pk"):
        found.setdefault(reading_pk, []).append(pk)
    return found


def _beside(verdict: VerdictDocument | None) -> dict[int, dict[str, float]]:
    """Return for each judged reading what the healthy circuit and the claimed fault predict."""
    found: dict[int, dict[str, float]] = {}
    for judgement in (verdict.before, verdict.after) if verdict is not None else ():
        if judgement is None:
            continue
        for place, reading in enumerate(judgement.readings):
            if reading.noted:
                continue
            values = {
                "healthy": judgement.healthy.predicted[place],
                "healthy_distance": judgement.healthy.distance[place],
            }
            if judgement.claim is not None:
                values["claimed"] = judgement.claim.predicted[place]
                values["claimed_distance"] = judgement.claim.distance[place]
            found[reading.number] = values
    return found
