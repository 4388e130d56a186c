"""A draft of a revision: what it changes, taking that back, and what others published meanwhile."""

import pytest
from django.test import Client
from django.urls import reverse

from circuits.models import Draft
from circuits.services import export_text, latest_revision
from circuits.sheet import read_text, with_entry_of
from tests.cast import Cast
from tests.pages.words import words_of
from tests.redrawn import COIL_WIRE, POOR_JOINTS, PUMP, redrawn


@pytest.fixture
def technician(cast: Cast, fuel_pump, visit) -> Client:
    client = visit(cast.technician)
    client.post(reverse("circuits:begin"), {"from": "revise:fuel-pump"})
    return client


def page() -> str:
    return reverse("circuits:write", args=[Draft.objects.get().key])


def done(client: Client, doing: str, text: str):
    version = Draft.objects.get().version
    return client.post(page(), {"doing": doing, "version": version, "text": text})


def text_with(*changes: tuple[str, str]) -> str:
    text = Draft.objects.get().text
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


def changes(client):
    return words_of(client.get(reverse("circuits:changed", args=[Draft.objects.get().key])))


def test_a_draft_lists_what_it_changes_and_one_part_can_be_taken_back(technician) -> None:
    assert "Nothing yet" in changes(technician)
    done(technician, "keep", text_with(POOR_JOINTS, COIL_WIRE))

    both = changes(technician)
    assert "joints 1.1 Ohm" in both
    assert "joints 61 mOhm" in both
    answer = done(technician, "take back parts W5", Draft.objects.get().text)
    assert answer.status_code == 302
    assert "joints 1.1 Ohm" in changes(technician)
    assert "joints 61 mOhm" not in changes(technician)


def test_a_part_that_was_taken_out_is_put_in_again_where_it_stood(technician) -> None:
    lines = Draft.objects.get().text.splitlines(keepends=True)
    without = "".join(line for line in lines if not line.startswith("E08pd "))
    done(technician, "take back parts E08pd", without)

    kept = read_text(Draft.objects.get().text)
    assert [part.name for part in kept.parts] == [part.name for part in read_text(PUMP).parts]


def test_a_part_that_was_put_in_is_taken_out_again() -> None:
    base = read_text(PUMP)
    more = read_text(PUMP.replace("\nW7 ", "\nW77  wire  EG - CH  1.5 mm2, 1 m\nW7 "))

    assert "W77" in [part.name for part in more.parts]
    assert with_entry_of(base, more, "parts", "W77") == base


def test_what_is_not_changed_cannot_be_taken_back(technician) -> None:
    before = Draft.objects.get().text
    for entry in ("parts W5", "parts W99", "vehicle vehicle", "nonsense W5", ""):
        done(technician, f"take back {entry}", before)

        assert Draft.objects.get().text == before


def test_who_opens_a_draft_is_told_what_others_published_since(
    cast: Cast, fuel_pump, technician
) -> None:
    assert "Others have published" not in words_of(technician.get(page()))
    redrawn(fuel_pump, POOR_JOINTS, by=cast.owner)

    told = words_of(technician.get(page()))
    assert "Others have published since you began with revision 1" in told
    assert "Measured again." in told
    assert "joints 1.1 Ohm" in told


def test_their_changes_are_taken_in_before_anything_is_published(
    cast: Cast, fuel_pump, technician
) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.owner)
    answer = done(technician, "join", text_with(COIL_WIRE))

    draft = Draft.objects.get()
    assert "Taken in: revision 2 came in between" in words_of(answer)
    assert draft.base == latest_revision(fuel_pump.circuit)
    assert POOR_JOINTS[1] in draft.text
    assert COIL_WIRE[1] in draft.text
    assert "Others have published" not in words_of(technician.get(page()))


def test_what_both_changed_stays_in_sight_until_it_is_published_and_theirs_can_be_taken(
    cast: Cast, fuel_pump, technician
) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.owner)
    mine = (POOR_JOINTS[0], "3.1 m, joints 9 mOhm")
    answer = done(technician, "join", text_with(mine))

    assert "1 entry was changed by both" in words_of(answer)
    seen_again = changes(technician)
    assert "joints 1.1 Ohm" in seen_again
    assert "joints 9 mOhm" in seen_again
    done(technician, "take back parts W3", Draft.objects.get().text)
    assert Draft.objects.get().text == export_text(latest_revision(fuel_pump.circuit))


def test_a_draft_with_something_to_mend_is_joined_once_it_is_mended(
    cast: Cast, fuel_pump, technician
) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.owner)
    flawed = text_with(("15 mOhm", "15 mm2"))

    assert done(technician, "join", flawed).status_code == 422
    assert Draft.objects.get().text == flawed
    assert done(technician, "take back parts INERT", flawed).status_code == 422
    assert "as soon as there is nothing left to mend" in changes(technician)


def test_nobody_sees_what_the_draft_of_another_changes(cast: Cast, technician, visit) -> None:
    address = reverse("circuits:changed", args=[Draft.objects.get().key])

    assert visit(cast.owner).get(address).status_code == 404
