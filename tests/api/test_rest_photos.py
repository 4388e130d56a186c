"""Photos over REST: kept without what a camera hides, tagged, seen by those who may, taken away."""

import base64
import io

from PIL import Image

from tests.cases.photographs import telephone_jpeg

AT = "/api/photos/"
OF_THE_PUMP = f"{AT}?circuit=fuel-pump"
TAG = {"place": "TP2", "across": 0.25, "down": 0.5}


def _wanted(**changes: object) -> dict[str, object]:
    picture = base64.b64encode(telephone_jpeg()).decode()
    usual = {"shop": "kestrel", "circuit": "fuel-pump", "caption": "The pump's plug", "own": True}
    return {**usual, "picture": picture, **changes}


def test_a_photo_is_kept_upright_and_bare_tagged_shown_and_taken_away(
    technician, fuel_pump
) -> None:
    """The picture sent lies on its side and says where it was taken; the one kept does neither."""
    made = technician.post(AT, _wanted(), format="json")
    one = f"{AT}{made.data['id']}/"
    tagged = technician.put(one, {"tags": [TAG]}, format="json")
    listed = technician.get(OF_THE_PUMP).data
    picture = technician.get(f"{one}picture/")
    kept = Image.open(io.BytesIO(picture.content))

    assert made.status_code == 201
    assert (made.data["width"], made.data["height"], made.data["tags"]) == (200, 400, [])
    assert tagged.data["tags"] == [TAG]
    assert listed == {"circuit": "fuel-pump", "photos": [tagged.data]}
    assert picture["Content-Type"] == "image/jpeg"
    assert (kept.size, dict(kept.getexif())) == ((200, 400), {})
    assert technician.delete(one).status_code == 204
    assert technician.get(one).status_code == 404


def test_another_shop_sees_a_photo_once_it_is_shared_and_never_changes_it(
    technician, outsider, fuel_pump
) -> None:
    hidden = technician.post(AT, _wanted(), format="json").data
    shared = technician.post(AT, _wanted(shared=True), format="json").data
    seen = outsider.get(OF_THE_PUMP).data["photos"]

    assert [photo["id"] for photo in seen] == [shared["id"]]
    assert outsider.get(f"{AT}{hidden['id']}/picture/").status_code == 404
    assert outsider.put(f"{AT}{shared['id']}/", {"tags": [TAG]}, format="json").status_code == 403
    assert outsider.delete(f"{AT}{shared['id']}/").status_code == 403
    assert technician.get(f"{AT}{shared['id']}/").data["tags"] == []


def test_what_cannot_be_kept_is_refused_at_its_field(technician, fuel_pump) -> None:
    no_picture = base64.b64encode(b"<svg/>").decode()
    for field, changes in (
        ("shared", {"own": False, "shared": True}),
        ("picture", {"picture": no_picture}),
        ("circuit", {"circuit": "no-such"}),
        ("shop", {"shop": "no-such"}),
        ("caption", {"caption": ""}),
    ):
        answer = technician.post(AT, _wanted(**changes), format="json")

        assert answer.status_code == 400, field
        assert answer.data["errors"][0]["field"] == field
    assert technician.get(AT).status_code == 400


def test_a_tag_beside_the_picture_or_at_no_place_leaves_the_old_ones(technician, fuel_pump) -> None:
    one = f"{AT}{technician.post(AT, _wanted(), format='json').data['id']}/"
    technician.put(one, {"tags": [TAG]}, format="json")
    for wrong in ({**TAG, "place": "TP99"}, {**TAG, "across": 1.2}):
        assert technician.put(one, {"tags": [wrong]}, format="json").status_code == 400

    assert technician.get(one).data["tags"] == [TAG]
