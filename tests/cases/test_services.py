"""Cases through their services: who may do what, what is kept, what is refused and how."""

from datetime import timedelta
from typing import Any

import pytest
from pydantic import ValidationError

from cases.documents.cases import CodeFacts, Repair, VainPart, VehicleFacts
from cases.errors import (
    BadFact,
    CaseWithdrawn,
    CircuitNotKnown,
    NotAMember,
    NothingToJudge,
    NotYourCase,
    OwnersOnly,
    UnknownFault,
)
from cases.models import Case, CodeStatus, Outcome, Role, Shop
from cases.services.cases import (
    claim_fault,
    edit_case,
    log_case,
    record_repair,
    take_back_claim,
    withdraw_case,
)
from cases.services.readings import add_reading
from cases.services.record import latest_verdict
from cases.services.shops import add_member, open_shop, remove_member, role_in, set_hold_days
from cases.services.verdicts import check_case
from circuits.models import Revision
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    facts,
    logged,
    one_reading,
    repaired,
)

# ------------------------------------------------------------------------------------ shops


def test_who_opens_a_shop_owns_it(cast: Cast) -> None:
    shop = open_shop(name="  Heron Yard  ", by=cast.outsider, at=MONDAY)

    assert (shop.name, shop.slug) == ("Heron Yard", "heron-yard")
    assert role_in(shop, cast.outsider) == Role.OWNER


@pytest.mark.parametrize("name", ["kestrel lane GARAGE", " ", "!!!"])
def test_a_shop_needs_a_name_of_its_own(cast: Cast, name: str) -> None:
    with pytest.raises(BadFact) as refused:
        open_shop(name=name, by=cast.outsider, at=MONDAY)

    assert refused.value.field == "name"


def test_only_an_owner_takes_people_in_and_out(cast: Cast) -> None:
    with pytest.raises(OwnersOnly):
        add_member(shop=cast.shop, user=cast.outsider, role="owner", by=cast.technician, at=MONDAY)
    with pytest.raises(OwnersOnly):
        remove_member(shop=cast.shop, user=cast.owner, by=cast.technician)
    with pytest.raises(OwnersOnly):
        set_hold_days(shop=cast.shop, days=10, by=cast.outsider)
    assert role_in(cast.shop, cast.outsider) is None


def test_a_shop_keeps_an_owner(cast: Cast) -> None:
    with pytest.raises(BadFact, match="needs an owner"):
        remove_member(shop=cast.shop, user=cast.owner, by=cast.owner)
    with pytest.raises(BadFact, match="needs an owner"):
        add_member(shop=cast.shop, user=cast.owner, role="technician", by=cast.owner, at=MONDAY)
    add_member(shop=cast.shop, user=cast.technician, role="owner", by=cast.owner, at=MONDAY)
    remove_member(shop=cast.shop, user=cast.owner, by=cast.owner)

    assert role_in(cast.shop, cast.owner) is None


def test_an_unknown_role_is_named_with_those_there_are(cast: Cast) -> None:
    with pytest.raises(BadFact, match="technician, trainer, owner"):
        add_member(shop=cast.shop, user=cast.outsider, role="king", by=cast.owner, at=MONDAY)


# ------------------------------------------------------------------------------------ cases


def test_cases_are_numbered_from_one_in_each_shop(cast: Cast) -> None:
    keys = [logged(cast, None).key for _ in range(2)]
    other = logged(cast, None, by=cast.outsider, shop=cast.other_shop)

    assert [*keys, other.key] == ["kestrel-1", "kestrel-2", "corder-1"]


def test_an_outsider_logs_nothing_in_a_shop(cast: Cast) -> None:
    with pytest.raises(NotAMember):
        log_case(shop=cast.shop, facts=facts(), by=cast.outsider, at=MONDAY)
    assert not Case.objects.exists()


def test_a_vehicle_known_by_its_plate_or_vin_is_the_same_vehicle(cast: Cast) -> None:
    first = logged(cast, None)
    second = logged(cast, None, complaint="Wipers dead.")
    elsewhere = logged(cast, None, by=cast.outsider, shop=cast.other_shop)
    stranger = logged(cast, None, vehicle=VehicleFacts(make="Tolvane", model="Juniver"))

    assert second.vehicle == first.vehicle
    assert elsewhere.vehicle != first.vehicle
    assert stranger.vehicle != first.vehicle


def test_a_strange_vin_is_taken(cast: Cast) -> None:
    vehicle = VehicleFacts(make="Tolvane", vin="sgz cz43d13s812715")

    assert logged(cast, None, vehicle=vehicle).vehicle.vin == "SGZCZ43D13S812715"


def test_a_comeback_must_be_of_a_case_one_can_see(cast: Cast) -> None:
    hidden = logged(cast, None)

    with pytest.raises(BadFact, match="not shared with you"):
        log_case(
            shop=cast.other_shop,
            facts=facts(),
            comeback_of=hidden,
            by=cast.outsider,
            at=MONDAY,
        )


def test_changed_facts_keep_what_they_were(cast: Cast) -> None:
    case = logged(cast, None)
    changed = facts(
        complaint="Cuts out after half an hour.",
        codes=(
            CodeFacts(code="p0087", failure_type="1c", module="engine", status=CodeStatus.STORED),
        ),
        parts_in_vain=(VainPart(part="fuel filter"),),
        vehicle=VehicleFacts(make="Tolvane", model="Juniver", plate="TEST 043"),
    )
    edit_case(case=case, facts=changed, by=cast.owner, at=MONDAY + timedelta(hours=1))
    case.refresh_from_db()
    noted = {change.field: (change.old, change.new) for change in case.changes.all()}

    assert case.complaint == "Cuts out after half an hour."
    assert case.codes.get().failure_type == "1C"
    assert noted["complaint"][0] == "Loses power on the motorway after half an hour."
    assert noted["codes"] == ("P0087", "P0087 1C engine stored")
    assert noted["vehicle plate"] == ("TEST 042", "TEST 043")
    assert {change.by for change in case.changes.all()} == {cast.owner}


@pytest.mark.parametrize(
    "told", [{"code": "spn 168", "fmi": 18}, {"code": "SPN 168 fmi18"}, {"code": "SPN 168 FMI 18"}]
)
def test_an_fmi_is_told_beside_its_code_or_written_behind_it(told: dict[str, Any]) -> None:
    """A heavy vehicle's code is a number for what (SPN) and one for how (FMI), SAE J1939-73."""
    code = CodeFacts.model_validate(told)

    assert code.fmi == 18
    assert CodeFacts.model_validate(code.as_data()) == code


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"tries_before": 2, "hits_before": 3}, "more often than it was tried"),
        ({"hits_before": 1}, "more often than it was tried"),
        ({"codes": ({"code": "P0087"}, {"code": "p0087"})}, "P0087 is listed twice"),
        (
            {"codes": ({"code": "spn 168", "fmi": 4}, {"code": "SPN 168 FMI 4"})},
            "SPN 168 FMI 4 is listed twice",
        ),
        ({"codes": ({"code": "SPN 168", "fmi": 4, "failure_type": "11"},)}, "tell one of them"),
    ],
)
def test_facts_that_cannot_be_are_refused_in_words(
    cast: Cast, changes: dict[str, Any], words: str
) -> None:
    with pytest.raises(BadFact, match=words):
        logged(cast, None, **changes)
    assert not Case.objects.exists()


@pytest.mark.parametrize(
    "changes",
    [
        {"complaint": "  "},
        {"complaint": "a\x00b"},
        {"vehicle": {"make": ""}},
        {"vehicle": {"make": "Tolvane", "year": 20166}},
        {"codes": [{"code": "P0087", "failure_type": "1G"}]},
        {"codes": [{"code": "SPN 168", "fmi": 32}]},
        {"codes": [{"code": "SPN 168 FMI 4", "fmi": 5}]},
        {"symptom": "haunted"},
        {"parts_in_vain": [{"part": "pump", "hours": -1}]},
        {"colour": "red"},
    ],
)
def test_facts_of_the_wrong_form_are_refused(changes: dict[str, object]) -> None:
    with pytest.raises(ValidationError):
        facts(**changes)


def test_a_withdrawn_case_takes_nothing_more(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)
    with pytest.raises(BadFact, match="say in a line why"):
        withdraw_case(case=case, reason="  ", by=cast.technician, at=MONDAY)
    withdraw_case(case=case, reason="wrong car", by=cast.technician, at=MONDAY)

    with pytest.raises(CaseWithdrawn):
        add_reading(
            case=case, reading=one_reading("TP2", "prime", "1"), by=cast.technician, at=MONDAY
        )


# -------------------------------------------------------------------------- claim and verdict


def test_a_claim_must_be_a_fault_this_circuit_can_have(cast: Cast, fuel_pump: Revision) -> None:
    case = logged(cast, fuel_pump)

    with pytest.raises(UnknownFault, match="did you mean resistance:C40"):
        claim_fault(case=case, suspect="resistence:C40", by=cast.technician, at=MONDAY)
    with pytest.raises(NotYourCase):
        claim_fault(case=case, suspect=FEED_FAULT, by=cast.outsider, at=MONDAY)


def test_every_change_of_the_evidence_is_judged_and_old_verdicts_stay(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    take_back_claim(case=case, by=cast.technician, at=MONDAY + timedelta(hours=1))
    newest = case.verdicts.first()

    assert newest is not None
    assert [verdict.claimed_suspect for verdict in case.verdicts.all()] == ["", FEED_FAULT, ""]
    assert newest.revision == fuel_pump
    assert case.changes.filter(field="claimed_suspect").count() == 2


def test_what_was_judged_before_is_what_a_check_from_scratch_says(
    cast: Cast, fuel_pump: Revision
) -> None:
    """Readings first, the claim later, after-readings last: three verdicts, one judgement."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    repaired(case, SOUND_READINGS, by=cast.technician)
    taken_over = latest_verdict(case)
    check_case(case=case, by=cast.technician, at=MONDAY + timedelta(days=1))

    assert case.verdicts.count() == 4
    assert latest_verdict(case) == taken_over


def test_a_check_with_nothing_to_judge_says_so(cast: Cast, fuel_pump: Revision) -> None:
    with pytest.raises(CircuitNotKnown):
        check_case(case=logged(cast, None), by=cast.technician, at=MONDAY)
    with pytest.raises(NothingToJudge):
        check_case(case=logged(cast, fuel_pump), by=cast.technician, at=MONDAY)


def test_a_check_names_the_rivals_and_the_places_that_part_them(
    cast: Cast, fuel_pump: Revision
) -> None:
    """With the pump's volts alone, a bad feed and a bad ground give the same 6.79 V."""
    case = logged(cast, fuel_pump, "prime\nTP1 12.35\nTP2 6.79", claim=FEED_FAULT)
    verdict = check_case(case=case, by=cast.technician, at=MONDAY)
    document = latest_verdict(case)
    assert document is not None
    assert document.before is not None
    fitting = {entry.suspect for entry in document.before.findings if entry.outcome == "fits"}

    assert verdict.outcome == "fits"
    assert {"resistance:C40", "resistance:W4", "resistance:W1"} <= fitting

    case = logged(cast, fuel_pump, GROUND_READINGS, claim=FEED_FAULT)

    assert check_case(case=case, by=cast.technician, at=MONDAY).outcome == "does not fit"


def test_another_battery_is_no_fault(cast: Cast, fuel_pump: Revision) -> None:
    """11.64 V at the battery: the pump's 11.02 V is 0.946 of it, as in health (0.949).

    Common practice, no source: predictions follow the supply of the day.
    """
    beside = one_reading("TP2", "prime", "11.02", supply_volts=11.64)
    case = logged(cast, fuel_pump)
    add_reading(case=case, reading=beside, by=cast.technician, at=MONDAY)
    document = latest_verdict(case)
    assert document is not None
    assert document.before is not None

    assert document.before.healthy.outcome == "fits"
    assert [reading.noted for reading in document.before.readings] == [False, True]


def test_a_verdict_survives_the_database_with_its_infinities(
    cast: Cast, fuel_pump: Revision
) -> None:
    case = logged(cast, fuel_pump, "prime\nTP1 12.40\nTP2 0.00\nTP3 12.40", claim=FEED_FAULT)
    document = latest_verdict(case)
    assert document is not None
    assert document.before is not None
    assert document.before.claim is not None

    assert document.before.claim.severity_high == float("inf")


def test_the_end_of_a_job_is_noted_and_can_be_reopened(cast: Cast) -> None:
    case = logged(cast, None)
    fixed = Repair(outcome=Outcome.FIXED, part_replaced="C40")
    record_repair(case=case, repair=fixed, by=cast.technician, at=MONDAY)
    case.refresh_from_db()

    assert case.closed_at == MONDAY

    again = Repair(outcome=Outcome.OPEN, part_replaced="C40")
    record_repair(case=case, repair=again, by=cast.technician, at=MONDAY)
    case.refresh_from_db()

    assert case.closed_at is None
    assert case.changes.filter(field="outcome").count() == 2


def test_two_cases_logged_at_once_get_two_numbers(cast: Cast) -> None:
    stale = Shop.objects.get(pk=cast.shop.pk)
    logged(cast, None)
    case = log_case(shop=stale, facts=facts(), by=cast.technician, at=MONDAY)

    assert case.number == 2
