"""What to measure next in a case: only what the record allows, nothing twice, nobody's secrets."""

import html
import json
import re
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from cases.circuit import circuit_from_sheet, circuit_of
from cases.documents.next_reading import Prices
from cases.documents.readings import Instrument
from cases.errors import CircuitNotKnown, NotForProposals
from cases.judging.frequencies import share_interval
from cases.judging.next_reading import what_to_measure
from cases.models import Case
from cases.services.exchange import export_case
from cases.services.instruments import save_instrument
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
        assert set(each.rig.bridged) <= set(circuit.allowed_bridges)
        circuit.check_moves(each.place, each.rig)


def test_a_bridge_of_the_record_is_proposed_with_its_caution_and_logged_as_it_was_told(
    cast: Cast, fuel_pump, client
) -> None:
    """Bridging the driver's pin to ground parts a relay that is not asked from one that is deaf.

    Common practice, no source.
    """
    case = logged(cast, fuel_pump)
    found = next_readings_for(case=case, by=cast.technician).readings
    bridged = next(each for each in found if each.rig.bridged)

    assert circuit_of(fuel_pump).allowed_bridges == bridged.rig.bridged == (("K85", "CH"),)
    assert any("take it out before the key leaves" in caution for caution in bridged.cautions)
    plain = next(each for each in found if each.rig.key == () and each.phase == bridged.phase)
    assert bridged.minutes > plain.minutes

    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("cases:next-reading", args=(case.pk,)))
    assert "K85 bridged to CH" in words_of(page)
    (address,) = {
        html.unescape(each)
        for each in re.findall(r'href="([^"]*bridged[^"]*)"', page.content.decode())
        if f"place={bridged.place}&" in html.unescape(each)
    }
    assert 'value="K85 - CH"' in client.get(address).content.decode()


def test_readings_are_proposed_for_the_instruments_of_whoever_asks(
    cast: Cast, fuel_pump, client
) -> None:
    case = logged(cast, fuel_pump)
    taken = [one_reading("TP1", "prime", "12.35"), one_reading("TP2", "prime", "6.79")]
    add_readings(case=case, readings=taken, by=cast.technician, at=MONDAY)
    without = next_readings_for(case=case, by=cast.technician).readings
    for instrument in (
        Instrument(name="big clamp", floor_amps=0.5),
        Instrument(name="old needle", input_ohms=2e5, reading_fraction=0.03, counts=20),
    ):
        save_instrument(instrument=instrument, by=cast.technician)
    found = next_readings_for(case=case, by=cast.technician).readings

    assert {each.instrument for each in without} == {""}
    assert {(each.unit == "A", each.instrument) for each in found} <= {
        (True, "big clamp"),
        (False, "old needle"),
    }
    drop = {
        name: next(each for each in told if each.place == "TP4" and each.rig.key == ())
        for name, told in (("common", without), ("needle", found))
    }
    assert drop["needle"].bits < drop["common"].bits

    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("cases:next-reading", args=(case.pk,)))
    assert "with your old needle" in words_of(page)
    assert "instrument=old+needle" in page.content.decode()
    other = next_readings_for(case=case, by=cast.owner).readings
    assert {each.instrument for each in other} == {""}


def test_no_bridge_is_proposed_that_no_record_has_or_that_goes_to_an_airbag() -> None:
    text = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")
    for changed in (
        text.replace(", bridge K85 - CH", ""),
        text.replace("[hazards]", "[hazards]\nnear-airbag  K85: the relay sits beside the airbag"),
    ):
        circuit = circuit_from_sheet(read_text(changed))
        assert circuit.allowed_bridges == ()
        assert all(each.rig.bridged == () for each in what_to_measure(circuit, []).readings)


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
    # One of its kind and one case, which counts twice in the same vehicle, beside one of its kind.
    assert told.probability == pytest.approx(3 * before.likely[0].probability, rel=0.1)


def test_few_cases_are_told_with_what_they_allow_and_those_of_the_same_vehicle_count_twice(
    cast: Cast, fuel_pump
) -> None:
    verified(cast, fuel_pump)
    other = verified(cast, fuel_pump, by=cast.outsider, shop=cast.other_shop)
    shared(other, by=cast.outsider)
    other.vehicle.model = "another one"
    other.vehicle.save()
    case = logged(cast, fuel_pump)
    told = next_readings_for(case=case, by=cast.technician).likely[0]
    past = verified_cases(fuel_pump, by=cast.technician, besides=case)

    assert (told.cases, told.of_cases, told.vehicle_cases) == (2, 2, 1)
    assert (told.share_low, told.share_high) == pytest.approx(share_interval(2, 2), rel=1e-3)
    assert past.weights == {FEED_FAULT: 3}


# Score intervals without continuity correction: R. G. Newcombe, Statistics in Medicine 17 (1998),
# 857-872, table I; values from memory.
@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_of_a_share_is_the_published_one(
    count: int, total: int, low: float, high: float
) -> None:
    assert share_interval(count, total) == pytest.approx((low, high), abs=5e-5)
    mirrored = share_interval(total - count, total)
    assert mirrored == pytest.approx((1 - high, 1 - low), abs=5e-5)


@pytest.mark.parametrize(("count", "total"), [(0, 0), (2, 1), (-1, 3)])
def test_what_is_no_share_has_no_interval(count: int, total: int) -> None:
    with pytest.raises(ValueError, match="is no share"):
        share_interval(count, total)


def test_a_reading_is_held_against_the_price_of_the_wrong_part(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump)
    prices = Prices(hour_price=60, part_price=200)
    found = next_readings_for(case=case, by=cast.technician, prices=prices).readings

    assert found
    for each in found:
        assert each.worth is not None
        assert each.worth.costs == pytest.approx(each.minutes, rel=1e-3)
        saved = 200 * (each.wrong_now - each.wrong_after)
        assert each.worth.saves == pytest.approx(saved, rel=1e-2, abs=0.05)


def test_prices_are_taken_on_the_page_over_rest_and_by_the_command(
    cast: Cast, fuel_pump, client, tmp_path
) -> None:
    case = logged(cast, fuel_pump)
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = reverse("cases:next-reading", args=(case.pk,))
    asked = client.get(page, {"hour_price": "60", "part_price": "0,02"})
    typo = client.get(page, {"hour_price": "sixty", "part_price": "nan"})

    assert "on average: it costs more than it saves" in words_of(asked)
    assert "read it first" in words_of(client.get(page, {"hour_price": 0, "part_price": 200}))
    assert words_of(typo).count("Type a number, such as 60 or 12.50.") == 2
    assert "on average" not in words_of(typo)

    address = reverse("rest:next-readings", args=(case.pk,))
    told = client.get(address, {"hour_price": "60", "part_price": "200"}).json()["readings"]
    assert all(each["worth"]["costs"] > 0 for each in told)
    assert client.get(address).json()["readings"][0]["worth"] is None
    for wrong in ({"hour_price": "60"}, {"hour_price": "60", "part_price": "-1"}):
        assert client.get(address, wrong).status_code == 400

    path = tmp_path / "case.json"
    document = export_case(case, by=cast.technician, at=MONDAY)
    path.write_text(document.model_dump_json(by_alias=True), encoding="utf-8")
    words = StringIO()
    call_command("next", str(path), "--prices", "60", "200", stdout=words)
    assert "on average" in words.getvalue()
    with pytest.raises(CommandError, match="'dear' is no price"):
        call_command("next", str(path), "--prices", "dear", "200")


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

    assert verified_cases(fuel_pump, by=cast.technician).total == 0
    shared(theirs, by=cast.outsider)
    assert verified_cases(fuel_pump, by=cast.technician).of_circuit == {FEED_FAULT: 1}
