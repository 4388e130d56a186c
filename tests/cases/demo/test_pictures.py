"""The demo's pictures of parts: tagged where the drawing says that a lead goes, small, and shared.

The spots on a picture are named as on the part: a pump's plus and minus, terminal numbers of a
relay by DIN 72552.
"""

from itertools import combinations
from math import dist

import pytest

from cases.demo.pictures import HEIGHT, WIDTH, picture_of
from cases.demo.stories import PhotoStory, read_setting
from cases.models import Photo
from cases.services.photos import photos_of
from circuits.models import Circuit
from circuits.services import latest_revision, sheet_of
from tests.cases.demo.conftest import person

PHOTOS = read_setting().photo
ONE_LEAD = [
    (story, place, spot)
    for story in PHOTOS
    for place, spot in story.tags.items()
    if spot != "between them"
]


@pytest.mark.parametrize(
    ("story", "place", "spot"), ONE_LEAD, ids=[place for _, place, _ in ONE_LEAD]
)
def test_a_tag_lies_where_the_drawing_puts_a_lead_of_its_place(
    story: PhotoStory, place: str, spot: str, demo: None
) -> None:
    sheet = sheet_of(latest_revision(Circuit.objects.get(key=story.circuit)))
    leads = next((entry.red, entry.black) for entry in sheet.places if entry.key == place)
    labels = [each.label for each in sheet.connections if each.node in leads]

    assert any(label.split()[-len(spot.split()) :] == spot.split() for label in labels), labels


def test_two_tags_never_lie_on_each_other(demo: None) -> None:
    """A tag's radius is a share of the width, so centres stand two of them apart."""
    for photo in Photo.objects.all():
        spots = [(tag.across * photo.width, tag.down * photo.height) for tag in photo.tags.all()]

        assert len(spots) > 1
        assert all(dist(one, other) > 2 * photo.tag_size for one, other in combinations(spots, 2))


def test_a_picture_is_small_and_the_same_each_time(demo: None) -> None:
    for photo in Photo.objects.all():
        assert len(bytes(photo.jpeg)) < 100_000
        assert (photo.width, photo.height) == (WIDTH, HEIGHT)
    for story in PHOTOS:
        assert picture_of(story.picture) == picture_of(story.picture)


def test_the_shop_sees_its_pictures_and_another_only_the_shared_one(demo: None) -> None:
    circuit = Circuit.objects.get(key="fuel-pump")

    assert photos_of(circuit, person("tamsin")).count() == 2
    assert [photo.is_shared for photo in photos_of(circuit, person("perrin"))] == [True]
