"""Photos: without what a camera hides in them, seen by those who may, tagged inside the picture."""

import io

import pytest
from PIL import Image

from cases.errors import BadFact, NotAMember
from cases.models import Photo
from cases.services.photos import add_photo, photos_of, remove_photo, tag_photo
from tests.cases.photographs import photographed, telephone_jpeg
from tests.cast import MONDAY, publish

pytestmark = pytest.mark.django_db


@pytest.fixture
def circuit(cast):
    return publish("fuel_pump.txt", by=cast.technician).circuit


def test_place_and_camera_are_gone_and_the_picture_stands_upright(cast, circuit):
    """Orientation 6 of EXIF (CIPA DC-008): turn by 90 degrees, so width and height swap."""
    taken = Image.open(io.BytesIO(telephone_jpeg()))
    kept = Image.open(io.BytesIO(bytes(photographed(cast, circuit).jpeg)))

    assert dict(taken.getexif())
    assert dict(kept.getexif()) == {}
    assert kept.size == taken.size[::-1]


def test_another_shop_sees_only_what_is_shared(cast, circuit):
    photographed(cast, circuit)
    assert not photos_of(circuit, cast.outsider)
    shared = photographed(cast, circuit, is_shared=True)

    assert list(photos_of(circuit, cast.outsider)) == [shared]
    with pytest.raises(NotAMember):
        tag_photo(photo=shared, tags={}, by=cast.outsider)
    with pytest.raises(NotAMember):
        remove_photo(photo=shared, by=cast.outsider)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"is_own": False, "is_shared": True}, "shared"),
        ({"content": b"<svg/>"}, "picture"),
        ({"content": telephone_jpeg()[:400]}, "picture"),
        ({"caption": " "}, "caption"),
    ],
)
def test_a_makers_page_stays_and_what_is_no_picture_is_refused(cast, circuit, given, field):
    sound = {"content": telephone_jpeg(), "caption": "x", "is_own": True, "is_shared": False}
    with pytest.raises(BadFact) as told:
        add_photo(shop=cast.shop, circuit=circuit, by=cast.technician, at=MONDAY, **sound | given)

    assert told.value.field == field
    assert not Photo.objects.exists()


def test_tags_name_places_and_lie_inside_and_a_wrong_one_leaves_the_old(cast, circuit):
    photo = photographed(cast, circuit)
    tag_photo(photo=photo, tags={"TP2": (0.25, 0.5)}, by=cast.technician)
    for wrong in ({"TP99": (0.1, 0.1)}, {"TP1": (1.2, 0.5)}, {"TP1": (float("nan"), 0.5)}):
        with pytest.raises(BadFact):
            tag_photo(photo=photo, tags=wrong, by=cast.technician)

    assert [(tag.place, tag.across, tag.down) for tag in photo.tags.all()] == [("TP2", 0.25, 0.5)]
