"""Searches kept under a name: one's own, whatever is typed."""

import pytest

from cases.errors import BadFact, NotYours
from cases.models import SavedSearch
from cases.services.saved_searches import MOST_KEPT, forget, keep, searches_of
from tests.cast import MONDAY, Cast

ASKED = "words=motorway&circuit=fuel-pump"


def test_a_search_is_kept_once_under_its_name_and_seen_by_its_owner_alone(cast: Cast) -> None:
    keep(name="pumps", asked="words=pump", by=cast.technician, at=MONDAY)
    keep(name=" pumps ", asked=f"?{ASKED}", by=cast.technician, at=MONDAY)

    assert [(kept.name, kept.asked) for kept in searches_of(cast.technician)] == [("pumps", ASKED)]
    assert not searches_of(cast.outsider).exists()
    with pytest.raises(NotYours):
        forget(search=SavedSearch.objects.get(), by=cast.outsider)
    forget(search=SavedSearch.objects.get(), by=cast.technician)
    assert not SavedSearch.objects.exists()


@pytest.mark.parametrize(
    ("name", "asked", "says"),
    [
        ("", ASKED, "name: give the search a name"),
        ("x" * 81, ASKED, "name: give the search a name"),
        ("a\x00b", ASKED, "name: give the search a name"),
        ("pumps", "", "asked: search for something first"),
        ("pumps", "words=" + "x" * 4000, "asked: a search of up to 4000 characters"),
        ("pumps", "a=1&" * 1500, "asked: a search of up to 4000 characters"),
        # Short enough, and longer as an address.
        ("pumps", "a&" * 900 + "b=" + "ü" * 1000, "asked: a search of up to 4000 characters"),
    ],
)
def test_what_cannot_be_kept_says_why(cast: Cast, name: str, asked: str, says: str) -> None:
    with pytest.raises(BadFact, match=says):
        keep(name=name, asked=asked, by=cast.technician, at=MONDAY)

    assert not SavedSearch.objects.exists()


def test_nobody_keeps_without_end(cast: Cast) -> None:
    for number in range(MOST_KEPT):
        keep(name=f"{number}", asked=ASKED, by=cast.technician, at=MONDAY)
    keep(name="0", asked="words=other", by=cast.technician, at=MONDAY)
    with pytest.raises(BadFact, match="forget one"):
        keep(name="one more", asked=ASKED, by=cast.technician, at=MONDAY)


def test_an_address_with_odd_characters_comes_back_as_an_address(client, cast: Cast) -> None:
    client.force_login(cast.technician)
    answer = client.post(
        "/cases/search/keep/", {"name": "odd", "asked": "words=a%00b\r\nX-Other: 1&circuit=<b>"}
    )

    assert answer.status_code == 302
    assert "\n" not in answer["Location"]
    assert client.get(answer["Location"]).status_code in (200, 422)
    assert client.get("/cases/search/").status_code == 200
