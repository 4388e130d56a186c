"""The words of a shop and kept searches over REST: one's own, and nobody else's."""

import pytest

from cases.models import SavedSearch, ShopWord
from tests.cast import Cast

WORDS = "/api/shops/kestrel/words/"
SEARCHES = "/api/search/kept/"


def test_a_shop_says_its_languages_and_words(technician, outsider, cast: Cast) -> None:
    assert technician.put(WORDS, {"languages": ["en", "nl"]}).status_code == 200
    made = technician.post(WORDS, {"language": "nl", "said": "klepto", "kept": "valve"})
    shown = technician.get(WORDS).data

    assert made.status_code == 201
    assert shown["languages"] == ["en", "nl"]
    assert [(word["said"], word["kept"]) for word in shown["words"]] == [("klepto", "valve")]
    word = f"{WORDS}{made.data['id']}/"
    assert outsider.get(WORDS).status_code == outsider.delete(word).status_code == 404
    assert technician.delete(word).status_code == 204
    assert not ShopWord.objects.exists()


def test_a_text_is_asked_about_by_ones_own_words_and_none_of_others(
    technician, outsider, cast: Cast
) -> None:
    made = {"language": "en", "said": "klepto", "kept": "valve"}
    assert technician.post(WORDS, made).status_code == 201
    asked = {"text": "New altenator, kletpo leaks"}
    own, other = (
        program.post("/api/search/spelling/", asked) for program in (technician, outsider)
    )

    assert own.data == {"in_doubt": {"altenator": ["alternator"], "kletpo": ["klepto"]}}
    assert other.data == {"in_doubt": {"altenator": ["alternator"]}}


@pytest.mark.parametrize(
    ("method", "body", "field"),
    [
        ("put", {"languages": ["English"]}, "languages"),
        ("put", {"languages": "en"}, "languages"),
        ("post", {"language": "de", "said": "klepto", "kept": "valve"}, "language"),
        ("post", {"language": "en", "said": "of the", "kept": "valve"}, "said"),
        ("post", {"language": "en", "said": "klepto"}, "kept"),
    ],
)
def test_what_is_no_word_or_language_says_why(technician, cast, method, body, field) -> None:
    answer = getattr(technician, method)(WORDS, body)

    assert answer.status_code == 400
    assert [error["field"] for error in answer.data["errors"]] == [field]


def test_a_search_is_kept_and_asked_again_from_its_address(
    technician, outsider, cast: Cast, client
) -> None:
    asked = {"name": "pumps", "asked": "?words=pump&circuit=fuel-pump"}
    kept = technician.post(SEARCHES, asked)
    again = technician.post(SEARCHES, {**asked, "asked": "words=fuel"})
    (shown,) = technician.get(SEARCHES).data["searches"]

    assert kept.status_code == again.status_code == 201
    assert (shown["name"], shown["asked"]) == ("pumps", "words=fuel")
    client.force_login(cast.technician)
    assert client.get(f"/cases/search/?{shown['asked']}").status_code == 200
    one = f"{SEARCHES}{shown['id']}/"
    assert outsider.get(SEARCHES).data["searches"] == []
    assert outsider.delete(one).status_code == 404
    assert technician.delete(one).status_code == 204
    assert not SavedSearch.objects.exists()


def test_a_search_without_name_or_question_is_refused(technician, cast: Cast) -> None:
    for body, field in (({"name": "", "asked": "words=a"}, "name"), ({"name": "a"}, "asked")):
        answer = technician.post(SEARCHES, body)

        assert answer.status_code == 400
        assert [error["field"] for error in answer.data["errors"]] == [field]
