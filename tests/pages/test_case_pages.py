"""Write up a case, read its verdict, and do with it what a shop does."""

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.models import Case, LoggedReading
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    SOUND_READINGS,
    Cast,
    logged,
    repaired,
    shared,
)
from tests.pages.words import typed_reading, typed_rows, words_of


def _new_case(cast: Cast, readings: list[dict[str, str]], **changes: str) -> dict[str, str]:
    return {
        "shop": str(cast.shop.pk),
        "make": "Tolvane",
        "complaint": "Loses power on the motorway.",
        "circuit": "fuel-pump",
        **typed_rows("codes", [{"code": "p0087"}]),
        **typed_rows("readings", readings),
        **changes,
    }


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


# ------------------------------------------------------------------------------ write up


def test_a_case_with_its_readings_is_logged_as_typed(cast: Cast, fuel_pump, technician) -> None:
    sent = _new_case(
        cast,
        [
            typed_reading("TP1", "12,35"),
            typed_reading("TP2", "6.79", symptom_present="yes"),
            typed_reading("TP2", "12.40", unplugged="PUMP"),
            typed_reading("TP3", ""),
        ],
        plate="TEST 042",
        parts_in_vain="fuel pump, 1.5 h\nfuel filter",
    )
    answer = technician.post(reverse("cases:new"), sent)
    case = Case.objects.get()
    typed = list(case.readings.values_list("place_key", "text", "value", "unplugged"))

    assert answer["Location"] == reverse("cases:case", args=[case.pk])
    assert typed == [
        ("TP1", "12,35", 12.35, []),
        ("TP2", "6.79", 6.79, []),
        ("TP2", "12.40", 12.40, ["PUMP"]),
    ]
    assert [code.code for code in case.codes.all()] == ["P0087"]
    vain = [(part.part, part.hours) for part in case.parts_in_vain.all()]
    assert vain == [("fuel pump", Decimal("1.5")), ("fuel filter", None)]
    assert case.vehicle.plate == "TEST 042"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("6.79 A", "but V is wanted here"),
        ("1,500", "is the comma a decimal mark or a thousands mark?"),
        ("6.7.9", "more than one decimal mark"),
        ("about six", "is no number with a unit"),
        ("12 MV", "M is mega and m is milli"),
    ],
)
def test_a_slip_in_one_reading_is_told_at_its_row_and_nothing_is_saved_or_lost(
    text: str, words: str, cast: Cast, fuel_pump, technician
) -> None:
    sent = _new_case(
        cast, [typed_reading("TP1", "12.35"), typed_reading("TP2", text)], conditions="hot"
    )
    answer = technician.post(reverse("cases:new"), sent)
    page = answer.content.decode()

    assert answer.status_code == 422
    assert Case.objects.count() == 0
    assert "Reading 2, reading" in words_of(answer)
    assert words in words_of(answer)
    assert f'value="{text}"' in page
    assert 'value="12.35"' in page
    assert "Loses power on the motorway." in page
    assert 'aria-describedby="id_readings-1-text_error"' in page
    assert 'id="id_readings-1-text_error"' in page


def test_every_slip_of_a_page_is_told_at_once(cast: Cast, fuel_pump, technician) -> None:
    sent = _new_case(
        cast, [typed_reading("TP9", "1"), typed_reading("TP2", "x")], make="", year="19"
    )
    sent |= typed_rows("codes", [{"code": "", "module": "engine"}])
    words = words_of(technician.post(reverse("cases:new"), sent))

    for slip in ("Make :", "Year :", "Code 1, code", "Reading 1, place", "Reading 2, reading"):
        assert slip.replace(" :", "") in words
    assert Case.objects.count() == 0


def test_a_bare_complaint_makes_a_note(cast: Cast, technician) -> None:
    sent = _new_case(cast, [], circuit="")
    technician.post(reverse("cases:new"), sent)

    assert Case.objects.get().earned_standing == "note"


def test_choosing_a_circuit_brings_its_places_and_cautions_and_keeps_what_was_typed(
    cast: Cast, fuel_pump, technician
) -> None:
    sent = {"circuit": "fuel-pump", "complaint": "Stalls when hot.", **typed_rows("codes", [{}])}
    words = technician.post(reverse("cases:new-redrawn"), sent).content.decode()

    assert "Stalls when hot." in words
    assert "pump connector + to pump connector -, V" in words
    assert "No test lamp near fuel or vapour" in words
    assert Case.objects.count() == 0


def test_what_is_typed_is_echoed_as_it_will_be_taken(fuel_pump, technician) -> None:
    address = reverse("cases:echo", args=[fuel_pump.pk])
    ask = {"readings-0-place": "TP1", "readings-0-text": "12350 mV"}

    assert "12350 mV = 12.35 V" in words_of(technician.get(address, ask))
    assert "but V is wanted" in words_of(technician.get(address, ask | {"readings-0-text": "4 A"}))
    assert words_of(technician.get(address, {"readings-0-text": "4"})) == ""


def test_a_vin_of_seventeen_that_looks_wrong_is_warned_about_and_kept(
    cast: Cast, technician
) -> None:
    """The ninth character would have to be 4: worked example of 49 CFR 565."""
    sent = _new_case(cast, [], circuit="", vin="1G4AH59H95G118341")
    words = words_of(technician.post(reverse("cases:new"), sent, follow=True))

    assert "ninth character" in words
    assert Case.objects.get().vehicle.vin == "1G4AH59H95G118341"


# ------------------------------------------------------------------------------- verdict


def test_the_page_says_that_the_claim_fits_which_reading_decided_and_who_fits_as_well(
    cast: Cast, fuel_pump, technician
) -> None:
    """1.1 Ohm at C40 drops 5.49 V at 4.98 A; the wires and the inertia switch in series with it
    drop the same, and no listed place lies between them."""
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    answer = technician.get(reverse("cases:case", args=[case.pk]))
    words = words_of(answer)

    assert "C40: connector with high resistance or open: fits the readings" in words
    assert "this reading decided" in words
    for rival in ("W2: wire", "INERT: switch", "W3: wire"):
        assert rival in words
    assert "Twins of the claim" in words
    assert "W4: wire with high resistance or open" in words.partition("excluded, and by what")[2]


def test_readings_that_a_healthy_pump_would_give_say_nothing(
    cast: Cast, fuel_pump, technician
) -> None:
    """The near miss: unplugged, 12.40 V is what the healthy car reads too."""
    case = logged(cast, fuel_pump)
    sent = typed_rows("readings", [typed_reading("TP2", "12.40", unplugged="PUMP")])
    technician.post(reverse("cases:add-readings", args=[case.pk]), sent)
    technician.post(reverse("cases:claim", args=[case.pk]), {"suspect": FEED_FAULT})
    words = words_of(technician.get(reverse("cases:case", args=[case.pk])))

    assert "the readings cannot say" in words
    assert "The circuit in order would have shown these readings too." in words


def test_a_claim_on_the_wrong_side_does_not_fit_and_the_case_is_doubtful(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, GROUND_READINGS, claim=FEED_FAULT)
    words = words_of(technician.get(reverse("cases:case", args=[case.pk])))

    assert "does not fit the readings" in words
    assert "doubtful" in words
    assert "W4: wire with high resistance or open" in words.partition("fit as well")[2]


def test_cautions_of_the_circuit_stand_where_readings_are_logged(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump)
    words = words_of(technician.get(reverse("cases:add-readings", args=[case.pk])))

    assert "Fuel and vapour" in words
    assert "The maker's procedure, local codes and licensed practice come first." in words


# --------------------------------------------------------------------------------- deeds


def test_a_correction_is_a_newer_line_and_the_old_one_stays_in_sight(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS)
    wrong = case.readings.get(place_key="TP3")
    address = reverse("cases:correct-reading", args=[case.pk, wrong.pk])
    technician.post(address, typed_reading("TP3", "0.49") | {"reason": "leads were swapped"})
    words = words_of(technician.get(reverse("cases:case", args=[case.pk])))

    assert LoggedReading.objects.filter(case=case).count() == 5
    assert "leads were swapped" in words
    assert "1 corrected line" in words
    refused = technician.post(address, typed_reading("TP3", "0.50") | {"reason": "again"})
    assert refused.status_code == 422
    assert "corrected already" in words_of(refused)


def test_after_readings_stand_ready_at_the_places_read_before(
    cast: Cast, fuel_pump, technician
) -> None:
    case = repaired(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)
    page = technician.get(reverse("cases:after-readings", args=[case.pk])).content.decode()
    chosen = re.findall(r'<option value="(TP\d)" selected>', page)
    assert chosen == ["TP1", "TP2", "TP3", "TP4"]

    sound = SOUND_READINGS.split()
    rows = [
        typed_reading(place, text) for place, text in zip(sound[1::2], sound[2::2], strict=True)
    ]
    technician.post(reverse("cases:after-readings", args=[case.pk]), typed_rows("readings", rows))
    assert Case.objects.get(pk=case.pk).earned_standing == "verified"


def test_a_severity_found_at_the_part_is_typed_with_its_unit(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS)
    address = reverse("cases:claim", args=[case.pk])
    technician.post(address, {"suspect": FEED_FAULT, "severity": "1100 mOhm"})
    assert Case.objects.get(pk=case.pk).claimed_severity == pytest.approx(1.1)

    refused = technician.post(address, {"suspect": FEED_FAULT, "severity": "1.1 V"})
    assert refused.status_code == 422
    assert "Ohm is wanted here" in words_of(refused)


def test_mending_the_facts_keeps_the_rest_and_notes_what_they_were(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(
        cast, fuel_pump, FEED_READINGS, complaint_phase="prime", parts_in_vain=({"part": "filter"},)
    )
    address = reverse("cases:edit", args=[case.pk])
    page = technician.get(address)
    form = page.context["form"]
    sent = {name: form[name].value() or "" for name in form.fields}
    sent |= typed_rows("codes", [{"code": "P0087"}]) | {"conditions": "only when hot"}
    technician.post(address, sent)
    mended = Case.objects.get(pk=case.pk)

    assert mended.conditions == "only when hot"
    assert mended.complaint_phase == "prime"
    assert [part.part for part in mended.parts_in_vain.all()] == ["filter"]
    assert [change.field for change in mended.changes.all()] == ["conditions"]


def test_before_sharing_the_page_shows_what_leaves_and_what_stays(
    cast: Cast, fuel_pump, technician
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, conditions="Mrs Cole, call 01632 960 001")
    address = reverse("cases:share", args=[case.pk])
    words = words_of(technician.get(address))

    assert "What would leave the shop" in words
    assert "[removed]" in words
    for secret in ("TEST 042", "Cole", "960 001"):
        assert secret not in words
    technician.post(address)
    assert Case.objects.get(pk=case.pk).is_shared
    technician.post(address, {"take_back": "1"})
    assert not Case.objects.get(pk=case.pk).is_shared


def test_a_case_goes_out_as_a_file_and_comes_back_with_its_readings(
    cast: Cast, fuel_pump, technician, visit, tmp_path
) -> None:
    case = shared(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)
    file = tmp_path / "case.json"
    file.write_bytes(technician.get(reverse("cases:file", args=[case.pk])).content)
    with file.open("rb") as upload:
        sent = {"shop": str(cast.other_shop.pk), "file": upload}
        visit(cast.outsider).post(reverse("cases:import"), sent)
    copy = Case.objects.get(shop=cast.other_shop)

    assert copy.copied_from == case
    assert copy.readings.count() == 4
    assert copy.earned_standing == "note"


def test_readings_come_in_as_a_table_all_or_none(
    cast: Cast, fuel_pump, technician, tmp_path
) -> None:
    case = logged(cast, fuel_pump)
    table = tmp_path / "readings.csv"
    address = reverse("cases:import-readings", args=[case.pk])
    table.write_text("place,phase,reading\nTP1,prime,12.35\nTP99,prime,6.79\n")
    with table.open("rb") as upload:
        refused = technician.post(address, {"file": upload})
    assert refused.status_code == 422
    assert "line 3" in words_of(refused)
    assert case.readings.count() == 0

    table.write_text("place,phase,reading\nTP1,prime,12.35\nTP2,prime,6.79\n")
    with table.open("rb") as upload:
        technician.post(address, {"file": upload})
    out = technician.get(reverse("cases:readings-file", args=[case.pk])).content.decode()
    assert "TP2,prime,6.79" in out


# --------------------------------------------------------------------------------- lists


def test_a_list_costs_as_many_queries_for_eight_cases_as_for_two(
    cast: Cast, fuel_pump, visit
) -> None:
    """Half of them are another shop's, whose words are scrubbed of its people."""
    outsider = visit(cast.outsider)
    counts = []
    for more in (1, 3):
        for _ in range(more):
            shared(logged(cast, fuel_pump), by=cast.technician)
            logged(cast, fuel_pump, by=cast.outsider, shop=cast.other_shop)
        with CaptureQueriesContext(connection) as queries:
            page = outsider.get(reverse("cases:list"))
        counts.append(len(queries))
        assert len(page.context["cases"]) == Case.objects.count()

    assert counts[0] == counts[1]


def test_a_list_is_narrowed_by_standing_circuit_and_shop(cast: Cast, fuel_pump, technician) -> None:
    doubtful = logged(cast, fuel_pump, GROUND_READINGS, claim=FEED_FAULT)
    fitting = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    note = logged(cast, None)

    def listed(**narrowed: str) -> set[int]:
        page = technician.get(reverse("cases:list"), narrowed)
        return {entry.case.pk for entry in page.context["cases"]}

    assert listed() == {doubtful.pk, fitting.pk, note.pk}
    assert listed(standing="doubtful") == {doubtful.pk}
    assert listed(circuit="fuel-pump") == {doubtful.pk, fitting.pk}
    assert listed(shop=cast.shop.slug, standing="note") == {note.pk}
    assert listed(shop="shared") == set()
    assert listed(standing="nonsense") == {doubtful.pk, fitting.pk, note.pk}


# -------------------------------------------------------------------------------- search


def test_six_point_eight_volts_at_the_pump_finds_both_causes_and_what_parts_them(
    cast: Cast, fuel_pump, visit
) -> None:
    """Feed fault and ground fault give the same 6.79 V; feed drop and ground drop part them."""
    feed = shared(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)
    ground = shared(
        logged(cast, fuel_pump, GROUND_READINGS, claim=GROUND_FAULT), by=cast.technician
    )
    asked = {"circuit": "fuel-pump", "words": ""}
    asked |= typed_rows("readings", [typed_reading("TP1", "12.35"), typed_reading("TP2", "6.8")])
    page = visit(cast.outsider).get(reverse("cases:search"), asked)
    words = words_of(page)

    found = {row.summary.case.pk for group in page.context["result"].groups for row in group.rows}
    assert found == {feed.pk, ground.pk}
    parting = words.partition("What parts them")[2]
    assert "TP3" in parting
    assert "TP4" in parting


def test_what_a_search_is_narrowed_to_is_told_as_people_call_it(
    cast: Cast, fuel_pump, technician
) -> None:
    logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    logged(cast, fuel_pump, codes=({"code": "P0627"},), complaint="Dead.")
    narrowed = {
        "words": "p0087",
        "shop": cast.shop.slug,
        "vehicle": "tolvane juniver",
        "fault": f"fuel-pump|{FEED_FAULT}",
    }

    words = words_of(technician.get(reverse("cases:search"), narrowed))

    assert f"shop: {cast.shop.name}" in words
    assert "vehicle: Tolvane Juniver" in words
    assert "fault: C40: connector" in words


def test_a_code_among_the_words_is_searched_as_a_code(cast: Cast, fuel_pump, technician) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    logged(cast, fuel_pump, codes=({"code": "P0627"},), complaint="Dead.")
    page = technician.get(reverse("cases:search"), {"words": "p0087"})

    hits = [row for group in page.context["result"].groups for row in group.rows]
    assert [row.summary.case.pk for row in hits] == [case.pk]
    assert "P0087 was set there too" in words_of(page)


def test_the_words_that_a_case_shares_are_marked_in_what_it_says(
    cast: Cast, fuel_pump, technician
) -> None:
    """As the case spells them: a lamp is a light, and a slip of the keys is one."""
    logged(cast, fuel_pump, complaint="Headlamps flicker on the <b>motorway</b>.")
    logged(cast, fuel_pump, codes=({"code": "P0627"},), complaint="Dead.")
    page = technician.get(reverse("cases:search"), {"words": "headlight flickr"}).content.decode()

    assert "<mark>Headlamps</mark> <mark>flicker</mark> on the &lt;b&gt;motorway&lt;/b&gt;." in page
    assert page.count("<mark>") == 2


def test_nothing_similar_is_said_so(cast: Cast, fuel_pump, technician) -> None:
    at_first = words_of(technician.get(reverse("cases:search"), {"words": "zebra"}))
    logged(cast, fuel_pump)
    words = words_of(technician.get(reverse("cases:search"), {"words": "zebra"}))

    assert "No past case here yet that you may see." in at_first
    assert "Nothing similar among the 1 case you may see here." in words


def test_a_slip_in_a_searched_reading_is_told(cast: Cast, fuel_pump, technician) -> None:
    asked = {
        "circuit": "fuel-pump",
        "words": "",
        **typed_rows("readings", [typed_reading("TP1", "12 A")]),
    }
    answer = technician.get(reverse("cases:search"), asked)

    assert answer.status_code == 422
    assert "but V is wanted here" in words_of(answer)


def test_the_lines_of_reasons_add_up_to_the_score(cast: Cast, fuel_pump, technician) -> None:
    logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    case = logged(cast, fuel_pump, FEED_READINGS)
    page = technician.get(reverse("cases:similar", args=[case.pk]))
    hits = [row for group in page.context["result"].groups for row in group.rows]

    assert len(hits) == 1
    assert sum(line.points for line in hits[0].reasons) == pytest.approx(hits[0].score, abs=1e-6)


def test_the_work_after_a_repair_is_ticked_off_on_the_page(cast, fuel_pump, technician) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    page = reverse("cases:case", args=(case.pk,))
    work = reverse("cases:after-work", args=(case.pk,))
    technician.post(work, {"kind": "undo", "words": "W3 pierced: sealed"})
    technician.post(work, {"kind": "magic", "words": "wave"})
    before = words_of(technician.get(page))
    technician.post(work, {"key": "own 1", "done": "yes"})

    assert "Undo: W3 pierced: sealed" in before
    assert "'magic' is none of" in before
    assert Case.objects.get(pk=case.pk).after_work[0]["done_by"] == "tarn"
    assert "Not done : W3 pierced: sealed" in words_of(technician.get(page))
