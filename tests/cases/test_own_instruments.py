"""A person's own instruments: kept once, named at a reading, and judged by their accuracy.

Accuracy is percent of the reading and counts of the last digit, as on every booklet; how the two
and half a digit add up is common practice, no source.
"""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.documents.readings import Instrument, NewReading
from cases.errors import BadRows, NotYours
from cases.models import Case, LoggedReading, OwnInstrument
from cases.services.instruments import instrument_names, remove_instrument, save_instrument
from cases.services.readings import add_readings, correct_reading
from cases.services.sharing import shared_view
from tests.api.rest import at, program_of
from tests.cast import MONDAY, Cast, judgement_on, logged, one_reading, shared
from tests.pages.words import typed_reading, typed_rows, words_of

COARSE = Instrument(name="old needle", reading_fraction=0.02, counts=5, input_ohms=400e3)
FINE = Instrument(name="bench meter", reading_fraction=0.0005, counts=1)


@pytest.fixture
def case(cast: Cast, fuel_pump) -> Case:
    for instrument in (COARSE, FINE):
        save_instrument(instrument=instrument, by=cast.technician)
    return logged(cast, fuel_pump)


def read_with(name: str, text: str = "12.34") -> NewReading:
    return one_reading("TP1", "prime", text, instrument={"name": name})


def log(case: Case, cast: Cast, *readings: NewReading) -> list[LoggedReading]:
    return add_readings(case=case, readings=readings, by=cast.technician, at=MONDAY)


@pytest.mark.parametrize(
    ("name", "reach_volts"),
    [
        # 2 % of 12.34 V, five counts and half a count of 10 mV.
        ("old needle", 0.2468 + 0.05 + 0.005),
        # 0.05 % of it, one count and half a count.
        ("bench meter", 0.00617 + 0.01 + 0.005),
    ],
)
def test_a_verdict_goes_by_the_accuracy_of_the_instrument_that_is_named(
    cast: Cast, case: Case, name: str, reach_volts: float
) -> None:
    log(case, cast, read_with(name))
    (reading,) = judgement_on(case).readings

    assert reading.meter_reach == pytest.approx(reach_volts, abs=1e-4)


def test_a_coarse_meter_cannot_tell_what_a_fine_one_can(cast: Cast, fuel_pump, case: Case) -> None:
    """The ground loses 0.08 V in order. 0.4 V on a display of 0.1 V steps may be half a volt off by
    its five counts, and says nothing; 0.350 V on one of millivolts says that the ground is bad."""
    steps = {"old needle": "0.4", "bench meter": "0.350"}
    outcomes = {}
    for name, text in steps.items():
        other = logged(cast, fuel_pump)
        log(other, cast, one_reading("TP4", "prime", text, instrument={"name": name}))
        outcomes[name] = judgement_on(other).healthy.outcome

    assert outcomes == {"old needle": "fits", "bench meter": "does not fit"}


def test_the_instrument_used_last_is_offered_first(cast: Cast, case: Case) -> None:
    log(case, cast, read_with("old needle"))

    assert instrument_names(cast.technician) == ["old needle", "bench meter"]


def test_a_reading_keeps_the_figures_of_its_day(cast: Cast, case: Case) -> None:
    (row,) = log(case, cast, read_with("bench meter"))
    save_instrument(instrument=FINE.model_copy(update={"counts": 9}), by=cast.technician)
    row.refresh_from_db()

    assert (row.meter_name, row.meter_counts) == ("bench meter", 1)
    assert OwnInstrument.objects.get(name="bench meter").counts == 9


def test_a_figure_told_at_the_reading_goes_before_what_is_kept(cast: Cast, case: Case) -> None:
    told = one_reading(
        "TP1", "prime", "12.34", instrument={"name": "old needle", "input_ohms": 1e6}
    )
    (row,) = log(case, cast, told)

    assert (row.meter_input_ohms, row.meter_counts) == (1e6, 5)


def test_a_name_that_nobody_kept_is_refused_and_says_what_to_do(cast: Cast, case: Case) -> None:
    with pytest.raises(BadRows, match="no instrument called 'red one'"):
        log(case, cast, read_with("red one"))

    assert case.readings.count() == 0


def test_somebody_elses_line_is_corrected_with_the_instrument_it_was_read_with(
    cast: Cast, case: Case
) -> None:
    (row,) = log(case, cast, read_with("bench meter"))
    newer = correct_reading(
        reading=row, correction=read_with("bench meter", "12.43"), reason="swapped digits",
        by=cast.owner, at=MONDAY,
    )  # fmt: skip

    assert (newer.meter_name, newer.meter_reading_fraction) == ("bench meter", 0.0005)


def test_what_somebody_calls_a_meter_stays_in_the_shop(cast: Cast, case: Case) -> None:
    log(case, cast, read_with("bench meter"))
    shared(case, by=cast.technician)
    (inside,) = shared_view(case, cast.technician, at=MONDAY).readings
    (outside,) = shared_view(case, cast.outsider, at=MONDAY).readings

    assert inside.instrument.name == "bench meter"
    assert outside.instrument == FINE.model_copy(update={"name": ""})


# ------------------------------------------------------------------------------ REST and pages


def test_instruments_over_rest_are_kept_named_and_forgotten(cast: Cast, case: Case) -> None:
    program = program_of(cast.technician)
    kept = program.post(
        "/api/instruments/", {"name": "clamp", "floor_amps": 0.1, "reading_fraction": 0.02}
    )
    logged_ = program.post(
        at(case, "readings"),
        {"readings": [{"place": "TP7", "phase": "prime", "text": "4.6",
                       "instrument": {"name": "clamp"}}]},
    )  # fmt: skip
    listed = program.get("/api/instruments/").data["instruments"]
    forgotten = program.delete(f"/api/instruments/{kept.data['id']}/")

    assert (kept.status_code, logged_.status_code, forgotten.status_code) == (201, 201, 204)
    assert logged_.data["readings"][0]["instrument"]["floor_amps"] == 0.1
    assert [each["name"] for each in listed] == ["clamp", "bench meter", "old needle"]
    assert program_of(cast.owner).get("/api/instruments/").data == {"instruments": []}
    assert case.readings.get().meter_name == "clamp"


def test_the_page_keeps_an_instrument_as_its_booklet_has_it(cast: Cast, db: None) -> None:
    browser = Client()
    browser.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse("cases:instruments")
    browser.post(
        address, {"name": "yellow", "percent": "0.8", "counts": "3", "input_ohms": "11 MOhm"}
    )
    nameless = browser.post(address, {"name": " ", "percent": "120"})
    page: Any = browser.get(address)
    words = words_of(page)

    saved = OwnInstrument.objects.get()
    assert saved.reading_fraction == pytest.approx(0.008)
    assert saved.counts == 3
    assert saved.input_ohms == 11e6
    assert "0.8 % + 3 counts" in words
    assert nameless.status_code == 422
    with pytest.raises(NotYours):
        remove_instrument(instrument=saved, by=cast.owner)
    browser.post(reverse("cases:remove-instrument", args=[saved.pk]))
    assert not OwnInstrument.objects.exists()


def test_the_logging_form_has_the_last_one_ready_and_logs_with_what_is_chosen(
    cast: Cast, case: Case
) -> None:
    log(case, cast, read_with("old needle"))
    browser = Client()
    browser.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse("cases:add-readings", args=[case.pk])
    form = browser.get(address).content.decode()
    browser.post(
        address,
        typed_rows("readings", [typed_reading("TP2", "11.71", instrument="bench meter")]),
    )

    assert '<option value="old needle" selected>' in form
    assert LoggedReading.objects.get(place_key="TP2").meter_counts == 1
    assert instrument_names(cast.technician)[0] in {"old needle", "bench meter"}


def test_whoever_has_no_instrument_is_not_asked_for_one(cast: Cast, case: Case) -> None:
    browser = Client()
    browser.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    form = browser.get(reverse("cases:add-readings", args=[case.pk])).content.decode()

    assert 'name="readings-0-instrument"' not in form
