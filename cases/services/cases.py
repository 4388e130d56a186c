"""Log a case, mend its facts, claim a fault, record the repair, withdraw."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F

from cases.circuit import circuit_of
from cases.documents.cases import CaseFacts, CodeFacts, Repair, VainPart, VehicleFacts
from cases.errors import BadFact, CircuitNotKnown, OwnersOnly
from cases.judging.verdict import check_claim
from cases.models import (
    HEALTHY,
    Case,
    CaseChange,
    CodeSeen,
    Outcome,
    PartInVain,
    Role,
    Shop,
    Vehicle,
)
from cases.services.record import (
    code_facts,
    codes_of,
    current_readings,
    latest_verdict,
    locked_for,
    rate_of,
    require_room,
    settle_record,
    settle_standing,
    settle_story,
)
from cases.services.shops import require_member, role_in
from cases.vin import normal_vin
from circuits.models import Revision

_FACT_FIELDS = (
    "system",
    "complaint",
    "symptom",
    "conditions",
    "complaint_phase",
    "tries_before",
    "hits_before",
    "monitors_passed",
)
_REPAIR_FIELDS = (
    "part_replaced",
    "outcome",
    "what_misled",
    "what_decided",
    "clean_tries_after",
)


@transaction.atomic
def log_case(
    *,
    shop: Shop,
    facts: CaseFacts,
    by: User,
    at: datetime,
    revision: Revision | None = None,
    comeback_of: Case | None = None,
    copied_from: Case | None = None,
) -> Case:
    """Open a case in a shop.

    A comeback lowers the standing of the case it comes back from, in the same transaction. A
    copy of another case carries its story, not its evidence: it starts at the bottom.
    """
    require_member(shop, by)
    check_facts(facts, revision)
    for other, field in ((comeback_of, "comeback_of"), (copied_from, "copied_from")):
        if other is not None and not Case.objects.visible_to(by).filter(pk=other.pk).exists():
            raise BadFact(field, "there is no such case, or it is not shared with you.")
    # The row is locked by the update, so two cases logged at once get two numbers.
    Shop.objects.filter(pk=shop.pk).update(last_case_number=F("last_case_number") + 1)
    shop.refresh_from_db(fields=["last_case_number"])
    case = Case.objects.create(
        shop=shop,
        number=shop.last_case_number,
        vehicle=_vehicle(shop, facts.vehicle),
        revision=revision,
        author=by,
        opened_at=at,
        comeback_of=comeback_of,
        copied_from=copied_from,
        **fact_values(facts, revision),
    )
    _write_codes(case, facts.codes)
    _write_parts(case, facts.parts_in_vain)
    settle_record(case, at=at)
    if comeback_of is not None:
        _lower_standing(comeback_of)
    return case


@transaction.atomic
def edit_case(*, case: Case, facts: CaseFacts, by: User, at: datetime) -> Case:
    """Mend the facts of a case; what they were before is kept with who changed them and when."""
    case = locked_for(case, by, "change its facts")
    check_facts(facts, case.revision)
    told_before = codes_of(case), rate_of(case)
    _change_fields(case, fact_values(facts, case.revision), by=by, at=at)
    _change_vehicle(case, facts.vehicle, by=by, at=at)
    old_codes = tuple(code_facts(code) for code in case.codes.all())
    if old_codes != facts.codes:
        case.codes.all().delete()
        _write_codes(case, facts.codes)
        codes = (old_codes, facts.codes)
        old, new = (_listed([each.as_kept() for each in told]) for told in codes)
        _note_change(case, "codes", old, new, by=by, at=at)
    old_parts = tuple(
        VainPart(part=part.part, hours=part.hours) for part in case.parts_in_vain.all()
    )
    if old_parts != facts.parts_in_vain:
        case.parts_in_vain.all().delete()
        _write_parts(case, facts.parts_in_vain)
        parts = (old_parts, facts.parts_in_vain)
        old, new = (_listed([each.model_dump() for each in told]) for told in parts)
        _note_change(case, "parts_in_vain", old, new, by=by, at=at)
    if (codes_of(case), rate_of(case)) == told_before:
        settle_story(case, at=at)
    else:
        settle_record(case, at=at)
    return case


@transaction.atomic
def choose_circuit(*, case: Case, revision: Revision, by: User, at: datetime) -> Case:
    """Say which circuit a case is about; readings and claim must have their place in it."""
    case = locked_for(case, by, "choose its circuit")
    require_room(case, circuit_of(revision))
    old = str(case.revision) if case.revision else ""
    case.revision = revision
    case.system = revision.circuit.system
    case.save(update_fields=["revision", "system"])
    _note_change(case, "circuit", old, str(revision), by=by, at=at)
    settle_record(case, at=at)
    return case


@transaction.atomic
def claim_fault(
    *, case: Case, suspect: str, by: User, at: datetime, severity: float | None = None
) -> Case:
    """Claim that one fault of the circuit was the cause, or that the circuit is in order.

    `severity` is what was measured at the part itself, in the suspect's unit; leave it out where
    it was not measured, and the readings say what it must have been.
    """
    case = locked_for(case, by, "claim a fault")
    if case.revision is None:
        raise CircuitNotKnown("name a fault")
    check_claim(circuit_of(case.revision), suspect)
    if not suspect:
        raise BadFact("suspect", "name the fault that is claimed.")
    if severity is not None and (suspect == HEALTHY or not severity >= 0):
        raise BadFact("severity", "a severity is zero or more, and belongs to a fault.")
    values = {"claimed_suspect": suspect, "claimed_severity": severity}
    _change_fields(case, values, by=by, at=at, also={"claimed_by": by, "claimed_at": at})
    settle_record(case, at=at)
    return case


@transaction.atomic
def take_back_claim(*, case: Case, by: User, at: datetime) -> Case:
    """Take a claim back; the log keeps that it was made."""
    case = locked_for(case, by, "take the claim back")
    values = {"claimed_suspect": "", "claimed_severity": None}
    _change_fields(case, values, by=by, at=at, also={"claimed_by": None, "claimed_at": None})
    settle_record(case, at=at)
    return case


@transaction.atomic
def record_repair(*, case: Case, repair: Repair, by: User, at: datetime) -> Case:
    """Record what was done and how it ended."""
    case = locked_for(case, by, "record the repair")
    values = {field: getattr(repair, field) for field in _REPAIR_FIELDS}
    ended = repair.outcome != Outcome.OPEN
    _change_fields(
        case,
        values,
        by=by,
        at=at,
        also={
            "repaired_at": (case.repaired_at or at) if ended else None,
            "closed_at": (case.closed_at or at) if ended else None,
        },
    )
    settle_story(case, at=at)
    return case


@transaction.atomic
def withdraw_case(*, case: Case, reason: str, by: User, at: datetime) -> Case:
    """Withdraw a case: it stays in the shop with its reason, and nobody else sees it again."""
    case = locked_for(case, by, "withdraw it")
    if by.pk != case.author_id and role_in(case.shop, by) != Role.OWNER:
        raise OwnersOnly(case.shop.name, "withdraw a case that someone else logged")
    reason = reason.strip()
    if not reason:
        raise BadFact("reason", "say in a line why the case is withdrawn.")
    case.withdrawn_at = at
    case.withdrawn_by = by
    case.withdrawal_reason = reason
    case.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawal_reason"])
    settle_story(case, at=at)
    if case.comeback_of is not None:
        _lower_standing(case.comeback_of)
    return case


# -------------------------------------------------------------------------------- details


def _lower_standing(earlier: Case) -> None:
    """Work out the standing of a case anew when a comeback of it comes or goes."""
    locked = Case.objects.select_for_update(of=("self",)).select_related("shop").get(pk=earlier.pk)
    settle_standing(locked, current_readings(locked), latest_verdict(locked))


def check_facts(facts: CaseFacts, revision: Revision | None) -> None:
    """Refuse facts that contradict one another, or the circuit."""
    tries, hits = facts.tries_before, facts.hits_before
    if hits is not None and (tries is None or hits > tries):
        raise BadFact("hits_before", "the symptom cannot have shown more often than it was tried.")
    torn = next((code for code in facts.codes if code.fmi is not None and code.failure_type), None)
    if torn is not None:
        raise BadFact("codes", f"{torn.code} has a failure type and an FMI; tell one of them.")
    seen = [(code.code, code.failure_type, code.module) for code in facts.codes]
    twice = next((code for code in seen if seen.count(code) > 1), None)
    if twice is not None:
        raise BadFact("codes", f"{twice[0]} is listed twice for the same module; list it once.")
    both = next((code for code, *_ in seen if code in facts.monitors_passed), None)
    if both is not None:
        raise BadFact(
            "monitors_passed",
            f"{both} is set, so its monitor did not pass. Take it off one of the two.",
        )
    if facts.complaint_phase and revision is not None:
        circuit_of(revision).check_phase(facts.complaint_phase)


def fact_values(facts: CaseFacts, revision: Revision | None) -> dict[str, Any]:
    """Return facts as the fields of a case."""
    values = {field: getattr(facts, field) for field in _FACT_FIELDS}
    values["monitors_passed"] = list(dict.fromkeys(facts.monitors_passed))
    if revision is not None:
        values["system"] = revision.circuit.system
    return values


def vehicle_values(facts: VehicleFacts) -> dict[str, Any]:
    """Return the fields of a vehicle."""
    return {**facts.model_dump(), "vin": normal_vin(facts.vin)}


def _vehicle(shop: Shop, facts: VehicleFacts) -> Vehicle:
    """Return the vehicle that the shop knows by this VIN or plate, or a new one."""
    values = vehicle_values(facts)
    known = shop.vehicles.filter(make__iexact=facts.make, model__iexact=facts.model)
    for field in ("vin", "plate"):
        if values[field]:
            found = known.filter(**{f"{field}__iexact": values[field]}).first()
            if found is not None:
                return found
    return Vehicle.objects.create(shop=shop, **values)


def _change_vehicle(case: Case, facts: VehicleFacts, *, by: User, at: datetime) -> None:
    vehicle = case.vehicle
    for field, value in vehicle_values(facts).items():
        old = getattr(vehicle, field)
        if old != value:
            _note_change(case, f"vehicle {field}", old, value, by=by, at=at)
            setattr(vehicle, field, value)
    vehicle.save()


def _change_fields(
    case: Case,
    values: dict[str, Any],
    *,
    by: User,
    at: datetime,
    also: dict[str, Any] | None = None,
) -> None:
    """Set the fields that differ, noting each; `also` follows from them and is not noted."""
    for field, value in values.items():
        old = getattr(case, field)
        if old != value:
            _note_change(case, field, old, value, by=by, at=at)
            setattr(case, field, value)
    for field, value in (also or {}).items():
        setattr(case, field, value)
    case.save(update_fields=[*values, *(also or {})])


def _note_change(
    case: Case, field: str, old: object, new: object, *, by: User, at: datetime
) -> None:
    CaseChange.objects.create(
        case=case, by=by, at=at, field=field, old=_as_text(old), new=_as_text(new)
    )


def _as_text(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)


def _listed(items: Sequence[dict[str, Any]]) -> str:
    return "; ".join(" ".join(str(value) for value in item.values() if value) for item in items)


def _write_codes(case: Case, codes: tuple[CodeFacts, ...]) -> None:
    CodeSeen.objects.bulk_create(CodeSeen(case=case, **code.as_kept()) for code in codes)


def _write_parts(case: Case, parts: tuple[VainPart, ...]) -> None:
    PartInVain.objects.bulk_create(PartInVain(case=case, **part.model_dump()) for part in parts)
