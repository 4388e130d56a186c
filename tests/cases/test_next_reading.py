"""What to measure next in a case: only what the record allows, nothing twice, nobody's secrets."""

import json
import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from cases.circuit import circuit_from_sheet, circuit_of
from cases.errors import CircuitNotKnown, NotForProposals
from cases.judging.next_reading import what_to_measure
from cases.models import Case
from cases.services.exchange import export_case
from cases.services.next_reading import next_readings_for, verified_cases
from cases.services.readings import add_readings
from circuits.models import Revision
from circuits.sheet import MoveKind, read_text
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    LIBRARY,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    one_reading,
    repaired,
    shared,
)
from tests.pages.words import words_of

pytestmark = pytest.mark.django_db


def verified(cast: Cast, revision: Revision, **who) -> Case:
    case = logged(cast, revision, FEED_READINGS, claim=FEED_FAULT, **who)
    return repaired(case, SOUND_READINGS, by=who.get("by", cast.technician))


def test_first_checks_are_proposed_before_anything_is_read(cast: Cast, fuel_pump) -> None:
    found = next_readings_for(case=logged(cast, fuel_pump), by=cast.technician)

    assert found.readings
    assert all(each.bits > 0 and each.minutes > 0 for each in found.readings)
    assert found.outside == pytest.approx(0.05)


def test_half_the_volts_at_the_pump_leave_feed_and_ground_and_one_reading_parts_them(
    cast: Cast, fuel_pump
) -> None:
    case = logged(cast, fuel_pump)
    taken = [one_reading("TP1", "prime", "12.35"), one_reading("TP2", "prime", "6.79")]
    add_readings(case=case, readings=taken, by=cast.technician, at=MONDAY)
    found = next_readings_for(case=case, by=cast.technician)
    by_place = {each.place: each for each in found.readings}

    assert {"TP1", "TP2"}.isdisjoint(
        each.place for each in found.readings if each.phase == "prime" and each.rig.key == ()
    )
    drop = by_place["TP4"]
    high = {name for suspect in drop.above.suspects for name in suspect.suspects}
    low = {name for suspect in drop.below.suspects for name in suspect.suspects}
    assert "resistance:W4" in high - low
    assert FEED_FAULT in low - high or "resistance:W3" in low - high


def test_nothing_is_proposed_that_the_record_does_not_allow(cast: Cast, fuel_pump) -> None:
    circuit = circuit_of(fuel_pump)
    for each in what_to_measure(circuit, []).readings:
        moves = circuit.entries[each.place].moves
        may_unplug = {n for move in moves if move.kind is MoveKind.UNPLUG for n in move.names}

        assert set(each.rig.unplugged) <= may_unplug
        assert each.rig.bridged == ()
        circuit.check_moves(each.place, each.rig)


def test_the_caution_stands_at_the_step(cast: Cast, fuel_pump) -> None:
    for each in what_to_measure(circuit_of(fuel_pump), []).readings:
        assert any("petrol vapour" in caution for caution in each.cautions)


def test_steering_beside_an_airbag_gets_next_readings_outside_the_column() -> None:
    """The switch in the column is left alone, the rest is read: common practice, no source."""
    circuit = circuit_from_sheet(
        read_text((LIBRARY / "power_steering.txt").read_text(encoding="utf-8"))
    )
    found = what_to_measure(circuit, []).readings

    places = {each.place for each in found}
    assert "TP2" in places
    assert len(places) >= 5
    assert places <= circuit.offered_places
    for each in found:
        entry = circuit.entries[each.place]
        assert not {entry.red, entry.black} & {"IG", "IG2"}
        assert any("column stays closed" in caution for caution in each.cautions)


def test_circuits_of_licensed_people_get_no_next_reading() -> None:
    text = (LIBRARY / "power_steering.txt").read_text(encoding="utf-8")
    text = text.replace("near-airbag", "airbag")

    with pytest.raises(NotForProposals, match="maker's procedure"):
        what_to_measure(circuit_from_sheet(read_text(text)), [])


def test_a_case_without_a_circuit_is_asked_for_one(cast: Cast) -> None:
    with pytest.raises(CircuitNotKnown):
        next_readings_for(case=logged(cast, None), by=cast.technician)


def test_verified_cases_weigh_and_are_told(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump)
    before = next_readings_for(case=case, by=cast.technician)
    verified(cast, fuel_pump)
    after = next_readings_for(case=case, by=cast.technician)
    told = after.likely[0]

    assert told.suspects == (FEED_FAULT,)
    assert told.cases == 1
    # One of its kind and one case, beside one of its kind.
    assert told.probability == pytest.approx(2 * before.likely[0].probability, rel=0.1)


def test_a_case_file_is_answered_without_a_database(cast: Cast, fuel_pump, tmp_path) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS)
    path = tmp_path / "case.json"
    document = export_case(case, by=cast.technician, at=MONDAY)
    path.write_text(document.model_dump_json(by_alias=True), encoding="utf-8")
    words, data = StringIO(), StringIO()
    call_command("next", str(path), stdout=words)
    call_command("next", str(path), "--json", stdout=data)

    assert "How likely by now" in words.getvalue()
    assert "1. " in words.getvalue()
    assert "Caution: petrol vapour" in words.getvalue()
    assert json.loads(data.getvalue())["schema"] == "copperlog-next/1"


def test_the_page_says_what_each_side_would_mean_and_the_open_case_leads_there(
    cast: Cast, fuel_pump, client
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS)
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = reverse("cases:next-reading", args=(case.pk,))
    words = words_of(client.get(page))

    assert "How likely by now" in words
    assert re.search(r"under [\d.]+ V", words)
    assert "The maker's procedure, local codes and licensed practice come first." in words
    assert page in client.get(reverse("cases:case", args=(case.pk,))).content.decode()
    client.force_login(cast.outsider, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(page).status_code == 404


def test_another_shops_case_counts_only_once_it_is_shared(cast: Cast, fuel_pump) -> None:
    theirs = verified(cast, fuel_pump, by=cast.outsider, shop=cast.other_shop)

    assert verified_cases(fuel_pump, by=cast.technician) == {}
    shared(theirs, by=cast.outsider)
    assert verified_cases(fuel_pump, by=cast.technician) == {FEED_FAULT: 1}
