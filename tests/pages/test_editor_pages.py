"""Writing a circuit: where it can begin, drafts that stay, and publishing them."""

import json

import pytest
from django.test import Client
from django.urls import reverse

from circuits.editor.starts import all_starts
from circuits.editor.table import Table
from circuits.models import Circuit, Draft, Revision
from circuits.services import export_text
from circuits.sheet import read_text
from tests.cast import Cast
from tests.pages.words import words_of

BEGIN = reverse("circuits:begin")


@pytest.fixture
def technician(cast: Cast, visit) -> Client:
    return visit(cast.technician)


def begun(client: Client, origin: str) -> Draft:
    answer = client.post(BEGIN, {"from": origin})
    return Draft.objects.get(key=answer["Location"].rstrip("/").rpartition("/")[2])


def page_of(draft: Draft) -> str:
    return reverse("circuits:write", args=[draft.key])


def sent(client: Client, draft: Draft, **body: object):
    address = reverse("circuits:keep", args=[draft.key])
    typed = {"version": draft.version, "text": draft.text, **body}
    return client.post(address, json.dumps(typed), content_type="application/json")


def published(client: Client, draft: Draft, **others: str):
    form = {
        "doing": "publish",
        "version": draft.version,
        "text": draft.text,
        "note": "read from the drawing",
        "redrawn": "own",
    }
    return client.post(page_of(draft), {**form, **others})


@pytest.mark.parametrize("start", all_starts(), ids=lambda start: start.name)
def test_every_shape_to_begin_from_is_a_circuit_that_can_be_solved(start, technician) -> None:
    draft = begun(technician, f"start:{start.name}")

    assert read_text(draft.text).vehicle.title == start.title
    assert published(technician, draft).status_code == 302
    assert Circuit.objects.get().title == start.title
    assert not Draft.objects.exists()


def test_a_copy_is_of_no_vehicle_yet_and_names_where_it_comes_from(fuel_pump, technician) -> None:
    draft = begun(technician, "copy:fuel-pump")
    vehicle = read_text(draft.text).vehicle

    assert (vehicle.key, vehicle.make, vehicle.model) == ("fuel-pump-2", "", "")
    assert vehicle.drawing.startswith("copied from fuel-pump revision 1 Tolvane")
    assert len(read_text(draft.text).parts) == fuel_pump.parts.count()


def test_a_draft_of_a_revision_is_opened_again_and_published_on_top(fuel_pump, technician) -> None:
    draft = begun(technician, "revise:fuel-pump")
    again = begun(technician, "revise:fuel-pump")
    changed = draft.text.replace("1.5 mm2, 3.1 m", "1.5 mm2, 3.4 m")
    published(technician, draft, text=changed)

    assert again == draft
    assert [each.number for each in Revision.objects.order_by("number")] == [1, 2]


def test_two_people_on_one_circuit_lose_nothing(cast, fuel_pump, technician, visit) -> None:
    """The second to publish sees what the first changed; the draft then holds both."""
    mine = begun(technician, "revise:fuel-pump")
    owner = visit(cast.owner)
    theirs = begun(owner, "revise:fuel-pump")
    published(owner, theirs, text=theirs.text.replace("1.5 mm2, 3.1 m", "1.5 mm2, 3.4 m"))
    answer = published(technician, mine, text=mine.text.replace("90 Ohm", "88 Ohm"))
    mine.refresh_from_db()

    assert answer.status_code == 409
    assert "revision 2 came in between" in words_of(answer)
    assert "3.4 m" in mine.text
    assert "88 Ohm" in mine.text
    assert published(technician, mine).status_code == 302
    assert Revision.objects.count() == 3


def test_a_draft_is_there_for_nobody_else(cast, technician, visit) -> None:
    draft = begun(technician, "empty")
    owner = visit(cast.owner)
    answers = {
        name: owner.generic(method, reverse(f"circuits:{name}", args=[draft.key])).status_code
        for name, method in (
            ("write", "GET"),
            ("write", "POST"),
            ("keep", "POST"),
            ("seen", "GET"),
            ("inspected", "GET"),
            ("device-rows", "POST"),
        )
    }

    assert set(answers.values()) == {404}
    assert "Your drafts" not in words_of(owner.get(BEGIN))


def test_what_cannot_be_read_is_kept_all_the_same_and_told_by_line(technician) -> None:
    draft = begun(technician, "empty")
    text = f"{draft.text}\n[parts]\nW1 wyre BP - CH 1 mm2, 1 m\n"
    answer = sent(technician, draft, text=text).json()
    draft.refresh_from_db()

    assert draft.text == text
    wyre = next(found for found in answer["findings"] if "wyre" in found["problem"])
    assert text.splitlines()[wyre["line"] - 1][wyre["column"] - 1 :].startswith("wyre")
    assert not answer["works"]


def test_table_and_text_change_places_and_say_the_same(fuel_pump, technician) -> None:
    draft = begun(technician, "revise:fuel-pump")
    table = sent(technician, draft, want="table").json()["table"]
    draft.refresh_from_db()
    back = sent(technician, draft, text="", table=table, want="text").json()
    draft.refresh_from_db()

    assert Table.model_validate(table) == Table.model_validate(draft.table)
    assert back["text"] == draft.text
    assert read_text(back["text"]) == read_text(export_text(fuel_pump))


def test_a_second_window_does_not_overwrite_the_first(technician) -> None:
    draft = begun(technician, "empty")
    first = sent(technician, draft, text="first")
    second = sent(technician, draft, text="second")
    draft.refresh_from_db()

    assert (first.status_code, second.status_code) == (200, 409)
    assert "changed in another window" in second.json()["detail"]
    assert draft.text == "first"


def test_what_is_sent_again_because_the_answer_was_lost_is_no_second_window(technician) -> None:
    draft = begun(technician, "empty")

    answers = [sent(technician, draft, text="on a bad line") for _ in range(2)]

    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json()["version"] == answers[1].json()["version"]


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ("{", "Invalid JSON"),
        ('{"version": 1, "tabel": {}}', "tabel"),
        ('{"version": 1, "table": {"sections": [{"name": "parts", "rows": 5}]}}', "rows"),
    ],
)
def test_nonsense_from_a_program_is_refused_with_its_place(body, told, technician) -> None:
    draft = begun(technician, "empty")
    address = reverse("circuits:keep", args=[draft.key])
    answer = technician.post(address, body, content_type="application/json")

    assert answer.status_code == 400
    assert told in answer.json()["detail"]


def test_a_character_that_no_database_takes_is_left_out_and_the_rest_is_kept(technician) -> None:
    draft = begun(technician, "empty")
    answer = sent(technician, draft, text="title: pump\x00", note="a\x00b")
    draft.refresh_from_db()

    assert answer.status_code == 200
    assert (draft.text, draft.note) == ("title: pump", "ab")


@pytest.mark.parametrize(
    ("others", "told"),
    [
        ({"note": ""}, "What changed, and why"),
        ({"redrawn": ""}, "Redrawn by you?"),
        ({"redrawn": "maker"}, "A maker's page stays in your shop."),
    ],
)
def test_what_is_missing_to_publish_is_asked_for_and_the_draft_stays(
    others, told, technician
) -> None:
    draft = begun(technician, "start:relay_low_side")
    typed = draft.text.replace("1.2 Ohm", "1.4 Ohm")
    answer = published(technician, draft, text=typed, **others)
    draft.refresh_from_db()

    assert answer.status_code == 422
    assert told in words_of(answer)
    assert draft.text == typed
    assert not Circuit.objects.exists()


def test_without_a_script_the_text_is_checked_and_kept(technician) -> None:
    draft = begun(technician, "start:relay_low_side")
    text = draft.text.replace("K1.coil, made", "K1.koil, made")
    answer = published(technician, draft, doing="keep", text=text)
    draft.refresh_from_db()

    assert "there is no such winding" in words_of(answer)
    assert draft.text == text


def test_a_draft_can_be_thrown_away(technician) -> None:
    draft = begun(technician, "empty")
    published(technician, draft, doing="throw away")

    assert not Draft.objects.exists()


def test_a_maker_s_page_is_not_taken_as_a_file_either(fuel_pump, technician) -> None:
    answer = technician.post(
        reverse("circuits:revise", args=["fuel-pump"]),
        {"text": export_text(fuel_pump), "note": "page 12", "redrawn": "maker", "base": 1},
    )

    assert answer.status_code == 422
    assert "A maker's page stays in your shop." in words_of(answer)


@pytest.mark.parametrize("origin", ["start:none", "copy:none", "revise:none", "copy:\x00"])
def test_what_is_not_there_cannot_be_begun_from(origin, technician) -> None:
    answer = technician.post(BEGIN, {"from": origin})

    assert answer.status_code == 200
    assert not Draft.objects.exists()
