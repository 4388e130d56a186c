"""Photos of readings: bare of what a camera hides, of the shop alone, kept in a case file."""

import base64
import io
from collections.abc import Sequence

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from cases.errors import BadFact, BadRows, NotYourCase
from cases.forms.readings import MOST_PHOTOS_AT_ONCE
from cases.models import Case, ReadingPhoto
from cases.services.exchange import export_case, import_case, read_case_document
from cases.services.reading_photos import (
    LONGEST_SIDE,
    MOST_OF_A_READING,
    add_reading_photo,
    remove_reading_photo,
)
from cases.services.readings import add_readings
from tests.api.rest import program_of
from tests.cases.photographs import photographed_reading, telephone_jpeg
from tests.cast import FEED_READINGS, MONDAY, Cast, logged, one_reading, shared


def browser_of(user: User) -> Client:
    browser = Client()
    browser.force_login(user)
    return browser


@pytest.fixture
def case(cast: Cast, fuel_pump) -> Case:
    return logged(cast, fuel_pump, FEED_READINGS)


def test_a_photo_of_a_reading_is_kept_upright_small_and_without_place_and_camera(
    cast: Cast, case: Case
) -> None:
    reading = case.readings.earliest("pk")
    picture = telephone_jpeg(3 * LONGEST_SIDE, LONGEST_SIDE)
    photo = add_reading_photo(reading=reading, content=picture, by=cast.technician, at=MONDAY)
    kept = Image.open(io.BytesIO(bytes(photo.jpeg)))

    assert (photo.width, photo.height) == (round(LONGEST_SIDE / 3), LONGEST_SIDE)
    assert (kept.size, dict(kept.getexif())) == ((photo.width, photo.height), {})


def test_a_reading_takes_so_many_photos_and_pictures_alone(cast: Cast, case: Case) -> None:
    reading = case.readings.earliest("pk")
    for _ in range(MOST_OF_A_READING):
        photographed_reading(cast, reading)

    with pytest.raises(BadFact, match="take one away first"):
        photographed_reading(cast, reading)
    with pytest.raises(BadFact, match="cannot be read as a picture"):
        add_reading_photo(
            reading=case.readings.latest("pk"), content=b"%PDF", by=cast.technician, at=MONDAY
        )
    assert ReadingPhoto.objects.count() == MOST_OF_A_READING


def test_photos_of_readings_come_back_with_the_file_of_the_case(cast: Cast, case: Case) -> None:
    for reading in case.readings.all()[1:3]:
        photographed_reading(cast, reading)
    text = export_case(case, by=cast.technician, at=MONDAY).model_dump_json()
    again = import_case(
        document=read_case_document(text), shop=cast.shop, by=cast.technician, at=MONDAY
    )
    counts = [reading.photos.count() for reading in again.readings.order_by("pk")]
    first = ReadingPhoto.objects.filter(reading__case=again).first()

    assert counts == [0, 1, 1, *[0] * (case.readings.count() - 3)]
    assert first is not None
    assert Image.open(io.BytesIO(bytes(first.jpeg))).size == (200, 400)


def test_a_file_with_a_broken_photo_comes_in_not_at_all(cast: Cast, case: Case) -> None:
    document = export_case(case, by=cast.technician, at=MONDAY)
    broken = document.readings[0].model_copy(update={"photos": (b"%PDF",)})
    document = document.model_copy(update={"readings": (broken, *document.readings[1:])})

    with pytest.raises(BadRows, match=r"readings 1.*cannot be read as a picture"):
        import_case(document=document, shop=cast.shop, by=cast.technician, at=MONDAY)
    assert Case.objects.count() == 1


def test_no_photo_of_a_reading_leaves_the_shop_with_a_shared_case(cast: Cast, case: Case) -> None:
    """A plate or a face may be in it, and nobody looks through each before a case is shared."""
    photo = photographed_reading(cast, case.readings.earliest("pk"))
    shared(case, by=cast.technician)
    picture = reverse("cases:reading-picture", args=[photo.pk])
    page = reverse("cases:case", args=[case.pk])
    document = export_case(case, by=cast.outsider, at=MONDAY)

    assert picture in browser_of(cast.technician).get(page).content.decode()
    assert picture not in browser_of(cast.outsider).get(page).content.decode()
    assert browser_of(cast.outsider).get(picture).status_code == 404
    assert [reading.photos for reading in document.readings] == [()] * len(document.readings)
    for deed in (
        lambda: remove_reading_photo(photo=photo, by=cast.outsider),
        lambda: add_reading_photo(
            reading=photo.reading, content=telephone_jpeg(), by=cast.outsider, at=MONDAY
        ),
    ):
        with pytest.raises(NotYourCase):
            deed()


def test_the_page_of_a_reading_takes_a_photo_in_and_away(cast: Cast, case: Case) -> None:
    reading = case.readings.earliest("pk")
    address = reverse("cases:reading-photos", args=[case.pk, reading.pk])
    visitor = browser_of(cast.technician)
    picture = io.BytesIO(telephone_jpeg())
    picture.name = "display.jpg"
    taken = visitor.post(address, {"picture": picture}, follow=True)
    photo = reading.photos.get()
    shown = visitor.get(reverse("cases:reading-picture", args=[photo.pk]))

    assert b"The photo is kept with the reading." in taken.content
    assert shown["Content-Type"] == "image/jpeg"
    assert visitor.post(address, {}).status_code == 422
    visitor.post(reverse("cases:remove-reading-photo", args=[photo.pk]))
    assert not reading.photos.exists()


def test_a_photo_of_a_reading_comes_and_goes_over_rest(cast: Cast, case: Case) -> None:
    technician = program_of(cast.technician)
    reading = case.readings.earliest("pk")
    at = f"/api/cases/{case.pk}/readings/{reading.pk}/photos/"
    wanted = {"picture": base64.b64encode(telephone_jpeg()).decode()}
    made = technician.post(at, wanted, format="json")
    one = f"/api/reading-photos/{made.data['id']}/"
    lines = technician.get(f"/api/cases/{case.pk}/").data["readings"]

    assert (made.status_code, made.data["width"]) == (201, 200)
    assert technician.get(at).data == {"photos": [made.data]}
    assert [line["photos"] for line in lines[:2]] == [[made.data["id"]], []]
    assert technician.get(one)["Content-Type"] == "image/jpeg"
    assert technician.delete(one).status_code == 204
    assert technician.get(one).status_code == 404


def logged_with_pictures(
    case: Case, pictures: Sequence[bytes | None], *, by: User, once: str = ""
) -> None:
    add_readings(
        case=case,
        readings=[one_reading("TP1", "prime", "12.35"), one_reading("TP2", "prime", "6.79")],
        by=by,
        at=MONDAY,
        once=once,
        pictures=pictures,
    )


def photos_by_place(case: Case) -> list[tuple[str, int]]:
    return sorted(
        (row.place_key, row.photos.count()) for row in case.readings.filter(phase_key="prime")
    )


def test_readings_are_logged_with_their_photos_or_not_at_all(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump)
    with pytest.raises(BadRows, match=r"2, TP2.*cannot be read as a picture"):
        logged_with_pictures(case, [telephone_jpeg(), b"%PDF"], by=cast.technician)
    assert not case.readings.exists()

    logged_with_pictures(case, [None, telephone_jpeg()], by=cast.technician)
    assert photos_by_place(case) == [("TP1", 0), ("TP2", 1)]


def test_a_sending_that_comes_again_brings_only_the_photos_that_it_lacked(
    cast: Cast, fuel_pump
) -> None:
    case = logged(cast, fuel_pump)
    for pictures in ((None, telephone_jpeg()), (telephone_jpeg(), telephone_jpeg())):
        logged_with_pictures(case, pictures, by=cast.technician, once="a1b2")

    assert photos_by_place(case) == [("TP1", 1), ("TP2", 1)]
    further = [telephone_jpeg(400 + number) for number in range(1, MOST_OF_A_READING + 1)]
    for picture in further[:-1]:
        logged_with_pictures(case, [None, picture], by=cast.technician, once="a1b2")
    with pytest.raises(BadFact, match="take one away first"):
        logged_with_pictures(case, [None, further[-1]], by=cast.technician, once="a1b2")
    assert photos_by_place(case) == [("TP1", 1), ("TP2", MOST_OF_A_READING)]


def row_with(content: bytes | None = None, **typed: str) -> dict[str, object]:
    counts = {"TOTAL_FORMS": "1", "INITIAL_FORMS": "0"}
    row: dict[str, object] = {"place": "TP2", "phase": "prime", "text": "6.79", **typed}
    if content is not None:
        row["photo"] = SimpleUploadedFile("display.jpg", content)
    return {f"readings-{name}": value for name, value in counts.items()} | {
        f"readings-0-{name}": value for name, value in row.items()
    }


def test_the_form_takes_a_photo_with_the_reading(cast: Cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump)
    address = reverse("cases:add-readings", args=[case.pk])
    browser = browser_of(cast.technician)

    for refused, words in [
        (row_with(telephone_jpeg(), text=""), "Type what the meter showed"),
        (row_with(photo_key="c0ffee"), "The photo did not come along"),
        (row_with(b"%PDF"), "Reading 1: picture: it cannot be read as a picture"),
    ]:
        answer = browser.post(address, refused)
        assert answer.status_code == 422
        assert words in answer.content.decode()
    assert not case.readings.exists()

    assert browser.post(address, row_with(telephone_jpeg(), photo_key="c0ffee")).status_code == 302
    assert photos_by_place(case) == [("TP2", 1)]


def test_no_more_photos_than_a_server_takes_in_at_once_go_with_one_sending(
    cast: Cast, fuel_pump
) -> None:
    case = logged(cast, fuel_pump)
    many = {
        f"other-{number}": SimpleUploadedFile("display.jpg", telephone_jpeg())
        for number in range(MOST_PHOTOS_AT_ONCE)
    }
    address = reverse("cases:add-readings", args=[case.pk])
    answer = browser_of(cast.technician).post(address, row_with(telephone_jpeg()) | many)

    assert answer.status_code == 422
    assert "photos go with one sending" in answer.content.decode()
    assert not case.readings.exists()
