"""The words of a shop: search reads what its people say as what they mean."""

import pytest

from cases.errors import BadFact, NotAMember
from cases.models import Case, ShopWord
from cases.services.searching import search_cases
from cases.services.words import add_word, remove_word, set_languages
from tests.cast import MONDAY, Cast, logged, searched_words, shared
from tests.jobs import run_jobs


@pytest.fixture
def case(cast: Cast) -> Case:
    return logged(cast, None, complaint="The klepto hums when it rains.", codes=())


def test_a_shops_own_word_finds_what_is_meant(cast: Cast, case: Case) -> None:
    def found(words: str) -> list[str]:
        result = search_cases(user=cast.technician, at=MONDAY, words=words)
        return [hit.case.key for hit in result.hits]

    for complaint in ("Horn silent.", "Wipers dead."):
        logged(cast, None, complaint=complaint, codes=())
    assert found("solenoid") == []
    word = add_word(
        shop=cast.shop, language="en", said="Klepto", kept="solenoids", by=cast.technician
    )
    run_jobs()

    assert (word.said, word.kept) == ("klepto", "solenoid")
    assert "solenoid" in searched_words(case)
    assert found("solenoid") == found("klepto") == [case.key]
    remove_word(word=word, by=cast.technician)
    run_jobs()

    assert "klepto" in searched_words(case)
    assert found("solenoid") == []


def test_another_shops_words_change_nothing_elsewhere(cast: Cast, case: Case) -> None:
    shared(case, by=cast.technician)
    set_languages(shop=cast.other_shop, languages=["nl"], by=cast.outsider)
    add_word(shop=cast.other_shop, language="nl", said="klepto", kept="valve", by=cast.outsider)
    run_jobs()

    assert "klepto" in searched_words(case)
    assert not ShopWord.objects.visible_to(cast.technician).exists()
    with pytest.raises(NotAMember):
        add_word(shop=cast.shop, language="en", said="klepto", kept="valve", by=cast.outsider)


@pytest.mark.parametrize(
    ("said", "kept", "language", "field"),
    [
        ("", "valve", "en", "said"),
        ("two words", "valve", "en", "said"),
        ("klepto", "12", "en", "kept"),
        ("dynamo", "generator", "en", "kept"),
        ("klepto", "valve", "English", "language"),
        ("klepto", "valve", "nl", "language"),
    ],
)
def test_what_is_no_word_is_refused_at_its_field(
    cast: Cast, said: str, kept: str, language: str, field: str
) -> None:
    with pytest.raises(BadFact) as refused:
        add_word(shop=cast.shop, language=language, said=said, kept=kept, by=cast.technician)

    assert refused.value.field == field
    assert not ShopWord.objects.exists()


def test_a_word_stands_once_on_the_list(cast: Cast) -> None:
    add_word(shop=cast.shop, language="en", said="klepto", kept="valve", by=cast.technician)
    with pytest.raises(BadFact, match="already"):
        add_word(shop=cast.shop, language="en", said="klepto", kept="relay", by=cast.technician)


def test_the_page_takes_a_word_and_gives_it_up(cast: Cast, client) -> None:
    client.force_login(cast.technician)
    taken = {"shop": cast.shop.pk, "said": "klepto", "kept": "valve", "language": "en"}

    assert client.post("/cases/words/", taken).status_code == 302
    assert b"klepto" in client.get("/cases/words/").content
    assert client.post("/cases/words/", {**taken, "said": ""}).status_code == 422
    word = ShopWord.objects.get()
    client.force_login(cast.outsider)
    assert client.post(f"/cases/words/{word.pk}/remove/").status_code == 404
    client.force_login(cast.technician)
    assert client.post(f"/cases/words/{word.pk}/remove/").status_code == 302
    assert not ShopWord.objects.exists()
