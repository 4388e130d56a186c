"""What is asked about a reading while it is typed.

Kirchhoff's laws close whatever is broken: drops around a loop, currents at a node. That millivolts
are written down as volts and that leads are swapped are the slips of every workshop, common
practice, no source.
"""

import re
from dataclasses import replace
from html import unescape
from itertools import product
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from cases.circuit import CaseCircuit, circuit_from_sheet
from cases.documents.readings import Instrument, Rig
from cases.judging import questions
from cases.judging.lines import Line
from cases.judging.questions import hint_for, plain_questions, slip_questions
from cases.models.choices import Statistic
from cases.services.instruments import save_instrument
from circuits.sheet import read_text
from tests.cast import LIBRARY, Cast, logged, publish
from tests.pages.words import words_of


def circuit_named(stem: str) -> CaseCircuit:
    return circuit_from_sheet(read_text((LIBRARY / f"{stem}.txt").read_text(encoding="utf-8")))


PUMP = circuit_named("fuel_pump")


def line(place: str, value: float | None, phase: str = "prime", **more: object) -> Line:
    text = "" if value is None else f"{value:g}"
    return Line(
        number=0,
        place=place,
        phase=phase,
        text=text,
        value=value,
        step=0.01,
        **more,  # type: ignore[arg-type]
    )


def _with(address: str, typed: dict[str, str]) -> str:
    """Return an address of a page with what was typed: the client's own data would replace both."""
    return f"{unescape(address)}&{urlencode(typed)}"


#: 1.1 ohm in the plug: 12.35 V less 5.49 V less 0.07 V are 6.79 V at the pump.
LOGGED = (line("TP1", 12.35), line("TP3", 5.49), line("TP4", 0.07))


def asked(typed: Line, *others: Line, circuit: CaseCircuit = PUMP) -> str:
    """Return all that is asked, at once and a moment later."""
    logged_before = others or LOGGED if circuit is PUMP else others
    return " ".join(
        [
            *plain_questions(circuit, logged_before, typed),
            *slip_questions(circuit, logged_before, typed),
        ]
    )


def test_what_closes_and_is_possible_asks_nothing() -> None:
    assert asked(line("TP2", 6.79)) == ""


def test_drops_that_do_not_close_around_the_loop_ask_for_the_same_moment() -> None:
    words = asked(line("TP2", 8.5))

    assert "TP1 - TP3 - TP4 leaves 6.79 V here" in words


def test_drops_of_another_phase_are_not_held_against_it() -> None:
    assert "leaves" not in asked(line("TP2", 8.5, phase="run"))


def test_leads_the_wrong_way_round_are_asked_about() -> None:
    words = asked(line("TP2", -6.79))

    assert "No fault of the drawing gives -6.79 V here in 'prime'." in words
    assert "leads swapped: 6.79 V" in words


def test_millivolts_written_as_volts_are_asked_about() -> None:
    words = asked(line("TP4", 70.0), *LOGGED[:2])

    assert "written a thousand times too large: 0.070 V" in words


def test_a_drop_in_the_row_of_its_neighbour_is_asked_about_though_a_fault_could_give_it() -> None:
    """A bad ground could drop 5.49 V at TP4, yet then the feed would lose the 0.5 V that a sound
    one loses, and 12.35 - 6.79 - 5.49 V leave it 0.07 V. At TP3 the figure fits a bad plug."""
    words = asked(line("TP4", 5.49), line("TP1", 12.35), line("TP2", 6.79))

    assert "No fault of the drawing gives" not in words
    assert "A single fault could give this figure, yet hardly with what is logged." in words
    assert "Was it taken at another place: TP3?" in words


def test_what_a_single_fault_explains_is_not_doubted_because_another_phase_reads_so() -> None:
    """No volts at a pump that should run are an open feed or ground; that they would be right once
    the prime is over is no reason to ask."""
    assert asked(line("TP2", 0.0), line("TP1", 12.35)) == ""


def test_nothing_is_nothing_in_millivolts_as_well() -> None:
    words = asked(line("TP2", 0.0))

    assert "leaves 6.79 V here" in words
    assert "a thousand times" not in words


def test_ohms_on_a_live_circuit_are_answered_with_the_drop_test() -> None:
    circuit = circuit_named("horn")
    typed = line("bench: winding K4.coil", None, phase="bench")
    assert asked(typed, circuit=circuit) == ""
    text = (LIBRARY.parent / "editor" / "starts" / "bus_terminations.txt").read_text("utf-8")
    bus = circuit_from_sheet(read_text(text))
    words = asked(line("TP4", 60.0, phase="idle"), circuit=bus)

    assert "power" in words
    assert "drop in volts" in words


def test_before_a_reading_the_place_says_what_is_healthy_and_the_mildest_that_shows() -> None:
    """A drop of 0.08 V at 5 A over the ground side: tens of milliohms show, by Ohm's law."""
    words = hint_for(PUMP, line("TP4", None))

    assert words.startswith("Healthy: 0.061 V to 0.096 V.")
    assert "The mildest that shows: " in words
    assert "10 mOhm" in words


def test_with_the_supply_off_volts_tell_nothing_and_that_is_said() -> None:
    words = hint_for(PUMP, line("TP2", None, rig=Rig(unplugged=("SUP",))))

    assert "Tells nothing here: every fault of the drawing reads as healthy." in words


def test_an_unplugged_load_hides_small_resistances_and_that_is_said() -> None:
    unplugged = hint_for(PUMP, line("TP2", None, rig=Rig(unplugged=("PUMP",))))
    loaded = hint_for(PUMP, line("TP2", None))

    assert "316 mOhm" in loaded
    assert "316 mOhm" not in unplugged


@pytest.mark.django_db
def test_the_page_asks_beside_what_the_case_has_logged_and_nobody_elses(cast: Cast, client) -> None:
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, revision, "prime\nTP1 12.35\nTP3 5.49\nTP4 0.07")
    at = reverse("cases:echo", args=(revision.pk,))
    typed = {"case": case.pk, "r-place": "TP2", "r-phase": "prime", "r-text": "8.5"}
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    own = words_of(client.get(at, typed))
    empty = words_of(client.get(at, {**typed, "r-text": ""}))
    client.force_login(cast.outsider, backend="django.contrib.auth.backends.ModelBackend")
    theirs = words_of(client.get(at, typed))

    assert "8.5" in own
    assert "leaves 6.79 V here" in own
    assert "Healthy:" in empty
    assert "leaves" not in theirs


@pytest.mark.django_db
def test_the_instrument_that_was_chosen_says_what_closes(cast: Cast, client) -> None:
    """7.5 V where 6.79 V would close: a needle read to a tenth may say that, a common meter not."""
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, revision, "prime\nTP1 12.35\nTP3 5.49\nTP4 0.07")
    needle = Instrument(name="needle", reading_fraction=0.1)
    save_instrument(instrument=needle, by=cast.technician)
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    at = reverse("cases:echo", args=(revision.pk,))
    typed = {"case": case.pk, "r-place": "TP2", "r-phase": "prime", "r-text": "7.5"}

    assert "leaves 6.79 V here" in words_of(client.get(at, typed))
    assert "leaves" not in words_of(client.get(at, {**typed, "r-instrument": "needle"}))


@pytest.mark.django_db
def test_a_supply_noted_beside_the_reading_closes_the_loop_as_well(cast: Cast, client) -> None:
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, revision, "prime\nTP3 5.49\nTP4 0.07")
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    at = reverse("cases:echo", args=(revision.pk,))
    typed = {"case": case.pk, "r-place": "TP2", "r-phase": "prime", "r-text": "8.5"}

    assert "leaves" not in words_of(client.get(at, typed))
    noted = words_of(client.get(at, {**typed, "r-supply_volts": "12.35"}))
    assert "TP1 - TP3 - TP4 leaves 6.79 V here" in noted


@pytest.mark.django_db
def test_what_takes_longer_is_asked_for_by_what_is_said_at_once(cast: Cast, client) -> None:
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, revision, "prime\nTP1 12.35\nTP3 5.49\nTP4 0.07")
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    at = reverse("cases:echo", args=(revision.pk,))
    typed = {"case": case.pk, "r-place": "TP2", "r-phase": "prime", "r-text": "-6.79"}
    at_once = client.get(at, typed)
    (later_at,) = re.findall(r'hx-get="([^"]+)"', at_once.content.decode())
    later = client.get(unescape(later_at))

    assert "-6.79 V" in words_of(at_once)
    assert "No fault of the drawing gives" in words_of(at_once)
    assert "leads swapped" not in words_of(at_once)
    assert words_of(later) == "Was it leads swapped: 6.79 V?"
    assert "hx-get" not in later.content.decode()


@pytest.mark.django_db
def test_a_reading_after_the_repair_is_asked_about_beside_those_after_it(
    cast: Cast, client
) -> None:
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, revision, "prime\nTP1 12.35\nTP3 5.49\nTP4 0.07")
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("cases:after-readings", args=(case.pk,))).content.decode()
    (address,) = set(re.findall(r'hx-get="([^"]+)"', page))
    typed = {"r-place": "TP2", "r-phase": "prime", "r-text": "12.2"}
    words = words_of(client.get(_with(address, typed)))

    assert "12.2" in words
    assert "leaves" not in words


@pytest.mark.django_db
@pytest.mark.parametrize(
    "odd",
    [
        {"r-unplugged": "NOTHING"},
        {"r-lamp": "-5"},
        {"r-lamp": "much"},
        {"r-place": "\x00"},
        {"case": "\x00"},
        {"case": "9" * 90},
        {"r-text": "9" * 400},
        {"r-phase": "never"},
        {"r-text": "OL"},
    ],
)
def test_whatever_is_typed_the_page_answers(cast: Cast, client, odd: dict[str, str]) -> None:
    revision = publish("fuel_pump.txt", by=cast.technician)
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    at = reverse("cases:echo", args=(revision.pk,))
    for text in ("", "12.2"):
        typed = {"r-place": "TP2", "r-phase": "prime", "r-text": text, **odd}

        assert client.get(at, typed).status_code == 200
        assert client.get(at, {**typed, "slips": "1"}).status_code == 200


@pytest.mark.django_db
def test_a_correction_is_asked_about_beside_all_lines_but_the_one_it_corrects(
    cast: Cast, client
) -> None:
    """With TP2 at 8.5 V still counted against it, 6.79 V at the same place would be a swap."""
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, revision, "prime\nTP1 12.35\nTP2 8.5\nTP3 5.49\nTP4 0.07")
    wrong = case.readings.get(place_key="TP2")
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("cases:correct-reading", args=(case.pk, wrong.pk))).content.decode()
    (address,) = set(re.findall(r'hx-get="([^"]+)"', page))
    typed = {"place": "TP2", "phase": "prime", "text": "6.79"}
    mended = words_of(client.get(_with(address, typed)))
    slipped = words_of(client.get(_with(address, {**typed, "text": "8.9"})))

    assert 'class="echo"' in page
    assert "cases/echo" in page
    assert "6.79" in mended
    assert "leaves" not in mended
    assert "TP1 - TP3 - TP4 leaves 6.79 V here" in slipped


def test_a_dip_is_no_impossible_figure_and_a_peak_still_is() -> None:
    """14.9 V at a pump of a 12.4 V circuit is no dip of anything."""
    dip = asked(line("TP2", -0.5, statistic=Statistic.MINIMUM))
    peak = asked(line("TP2", 14.9, statistic=Statistic.MINIMUM))

    assert dip == ""
    assert "No fault of the drawing gives 14.90 V here" in peak


@pytest.mark.django_db
def test_whatever_is_typed_is_answered(cast: Cast, client) -> None:
    beside = "statistic stage lamp unplugged instrument supply_volts celsius meter_ohms clamp_floor"
    fields = ("text", "place", "phase", "lead_ohms", *beside.split())
    odd_ones = ("\x00", "1e999", "nan", "-1", "9" * 400, "'; --", "\u221e")
    revision = publish("fuel_pump.txt", by=cast.technician)
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    at = reverse("cases:echo", args=(revision.pk,))
    for field, odd, text in product(fields, odd_ones, ("12.3", "")):
        typed = {"r-place": "TP2", "r-phase": "prime", "r-text": text, f"r-{field}": odd}
        assert client.get(at, typed).status_code == 200, (field, odd)
        assert client.get(at, {**typed, "slips": "1"}).status_code == 200, (field, odd)


def test_a_question_that_takes_too_long_says_that_not_all_was_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With no time at all nothing is looked at, and nobody is told that there is nothing."""
    typed = line("TP2", 6.79e-3)
    found = slip_questions(PUMP, LOGGED, typed)
    monkeypatch.setattr(questions, "MOST_SLIP_SECONDS", -1.0)
    hurried = slip_questions(PUMP, LOGGED, replace(typed, text="not asked before"))

    assert found
    assert questions.NOT_ALL_LOOKED_AT not in found
    assert hurried == (questions.NOT_ALL_LOOKED_AT,)
