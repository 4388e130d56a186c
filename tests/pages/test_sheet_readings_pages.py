"""A test sheet filled in: each check with its field, logged together or not at all."""

import pytest
from django.test import Client
from django.urls import reverse

from cases.models import Case, LoggedReading
from circuits.models import Revision
from tests.cast import MONDAY, Cast, logged, publish, repaired
from tests.pages.words import words_of


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


@pytest.fixture
def horn(cast: Cast) -> Revision:
    return publish("horn.txt", by=cast.technician)


@pytest.fixture
def case(cast: Cast, horn) -> Case:
    return logged(cast, horn, complaint="Horn stays silent.")


def page_of(case: Case, **asked: str) -> str:
    return reverse("cases:sheet-readings", args=(case.pk,), query=asked)


def rows_on(answer) -> list[tuple[str, str]]:
    """Return the name of each field with the place that it is logged under."""
    form = answer.context["form"]
    return [(field.html_name, row.place) for row, field in form.steps]


def test_a_part_is_chosen_and_each_check_has_a_field(case, technician) -> None:
    chosen = technician.get(page_of(case))
    filled = technician.get(page_of(case, part="K4"))

    assert "Choose a part" in words_of(chosen)
    words = words_of(filled)
    assert "Source: source under load" in words
    assert "H30, relay K4, 30" in words
    assert "Display shows" in words
    assert "The maker's procedure, local codes and licensed practice come first." in words


def test_what_was_typed_is_logged_and_what_was_left_empty_is_not(case, technician) -> None:
    page = page_of(case, part="K4")
    first, second, *_ = rows_on(technician.get(page))
    answer = technician.post(page, {"stage": "before", first[0]: "12,41", second[0]: "12.2"})

    assert answer.status_code == 302
    logged_rows = LoggedReading.objects.filter(case=case).order_by("pk")
    assert [(row.place_key, row.text) for row in logged_rows] == [
        (first[1], "12,41"),
        (second[1], "12.2"),
    ]
    assert "12,41" in words_of(technician.get(answer.url))


def test_a_place_that_the_circuit_lists_keeps_its_key(case, technician) -> None:
    places = [place for _, place in rows_on(technician.get(page_of(case, part="LOW")))]

    assert "TP1" in places  # the battery posts
    assert "TP2" in places  # across the low horn


def test_one_bad_check_keeps_all_out_and_all_typed(case, technician) -> None:
    page = page_of(case, part="K4")
    first, second, *_ = rows_on(technician.get(page))
    answer = technician.post(page, {"stage": "before", first[0]: "12.41", second[0]: "twelve"})
    words = words_of(answer)

    assert answer.status_code == 422
    assert not LoggedReading.objects.exists()
    assert 'value="12.41"' in answer.content.decode()
    assert 'value="twelve"' in answer.content.decode()
    assert "Not saved yet: 1 thing to mend" in words


def test_an_empty_sheet_is_asked_for_a_reading(case, technician) -> None:
    answer = technician.post(page_of(case, part="K4"), {"stage": "before"})

    assert answer.status_code == 422
    assert "Type what at least one check showed." in words_of(answer)


def test_the_bench_is_a_phase_of_its_own(case, technician) -> None:
    page = page_of(case, part="K4", bench="1")
    name = next(name for name, place in rows_on(technician.get(page)) if "winding" in place)
    technician.post(page, {"stage": "before", name: "86.1"})
    row = LoggedReading.objects.get()

    assert (row.phase_key, row.place_key) == ("bench", "bench: winding K4.coil")
    assert row.power_removed
    words = words_of(technician.get(reverse("cases:case", args=(case.pk,))))
    assert "on the bench" in words.lower(), words
    assert "winding K4.coil, taken out" in words


def test_a_reading_at_an_unlisted_place_can_be_corrected(case, technician) -> None:
    page = page_of(case, part="K4", bench="1")
    name = next(name for name, place in rows_on(technician.get(page)) if "winding" in place)
    technician.post(page, {"stage": "before", name: "861"})
    wrong = LoggedReading.objects.get()
    sent = {
        "place": wrong.place_key,
        "phase": wrong.phase_key,
        "text": "86.1",
        "power_removed": "on",
        "reason": "point left out",
    }
    answer = technician.post(reverse("cases:correct-reading", args=(case.pk, wrong.pk)), sent)

    assert answer.status_code == 302
    assert LoggedReading.objects.get(corrects=wrong).value == pytest.approx(86.1)


def test_a_sheet_read_after_the_repair_is_logged_as_that(cast: Cast, horn, technician) -> None:
    case = repaired(logged(cast, horn), by=cast.technician)
    page = page_of(case, part="LOW")
    name = rows_on(technician.get(page))[0][0]
    technician.post(page, {"stage": "after", name: "12.4"})

    assert LoggedReading.objects.get().stage == "after"


def test_the_sheet_leads_to_the_cases_of_ones_own_shop(cast: Cast, case, visit) -> None:
    asked = {"circuit": "horn", "part": "K4"}
    page = reverse("cases:choose-sheet-case", query=asked)
    other = logged(
        cast,
        case.revision,
        complaint="A secret complaint.",
        by=cast.outsider,
        shop=cast.other_shop,
        at=MONDAY,
    )
    mine = visit(cast.technician).get(page)

    assert "Horn stays silent." in words_of(mine)
    assert "A secret complaint." not in words_of(mine)
    assert page_of(case, part="K4") in mine.content.decode()
    assert visit(cast.technician).get(page_of(other, part="K4")).status_code == 404


def test_no_sheet_is_offered_where_others_have_to_take_over(cast: Cast, technician) -> None:
    case = logged(
        cast, publish("power_steering.txt", by=cast.technician, swap=("near-airbag", "airbag"))
    )
    answer = technician.get(page_of(case, part="EPS"))

    assert "form" not in answer.context
    assert "No sheet is given here." in words_of(answer)


def test_the_outbox_is_told_in_so_many_words_and_a_changed_figure_is_not_dropped(
    case, technician
) -> None:
    page = page_of(case, part="K4")
    (name, _), *_ = rows_on(technician.get(page))
    sent = {"stage": "before", "once": "0a1b-2c3d", name: "12.41"}
    outbox = {"headers": {"X-From-Outbox": "1"}}
    taken, again = (technician.post(page, sent, **outbox) for _ in range(2))
    changed = technician.post(page, {**sent, name: "12.14"}, **outbox)

    assert (taken.status_code, again.status_code) == (204, 204)
    assert changed.status_code == 422
    assert "logged as 12.41" in words_of(changed)
    assert [row.text for row in LoggedReading.objects.all()] == ["12.41"]
    further = technician.post(page, {**sent, "once": changed.context["once"], name: "12.14"})
    assert further.status_code == 302
    assert [row.text for row in LoggedReading.objects.all()] == ["12.41", "12.14"]


def test_who_is_signed_out_is_not_told_that_it_was_taken(case, client) -> None:
    answer = client.post(page_of(case, part="K4"), {}, headers={"X-From-Outbox": "1"})

    assert answer.status_code == 302


@pytest.mark.parametrize("asked", [{"circuit": "\x00"}, {"circuit": "none"}, {}])
def test_a_circuit_that_is_not_there_has_no_cases_to_choose(technician, asked) -> None:
    page = reverse("cases:choose-sheet-case", query=asked)

    assert technician.get(page).status_code == 404
