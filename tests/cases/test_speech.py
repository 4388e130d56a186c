"""Languages: a list of words counts where its language is written, and all keep the same words.

What the words mean is as dictionaries have it, from memory.
"""

import pytest

from cases.errors import BadFact, NotAMember
from cases.models import Case
from cases.search.speech import KNOWN_LANGUAGES, Speech, speech_in
from cases.search.words import IN_ENGLISH, marked, words_of
from cases.services.searching import search_cases
from cases.services.words import add_word, set_languages
from tests.cast import MONDAY, Cast, logged, searched_words, shared
from tests.jobs import run_jobs

LISTS = [pytest.param(speech_in([each]), id=each) for each in KNOWN_LANGUAGES]


@pytest.mark.parametrize(
    ("languages", "text", "words"),
    [
        (
            ["de"],
            "Die Lichtmaschine lädt nicht, Masse fehlt",
            ["generator", "lädt", "ground", "fehlt"],
        ),
        (["nl"], "De accu is leeg, massa slecht", ["battery", "flat", "ground", "slecht"]),
        # alt is old in German, and short for alternator in English
        (["de"], "alt", ["alt"]),
        (["en"], "alt", ["generator"]),
        # rust is quiet in Dutch, roest is what eats a strap
        (["nl"], "rust roest", ["rust", "corrosion"]),
        (["en"], "rust", ["corrosion"]),
        # a shop where both are written: the usual one first
        (["de", "en"], "Masse and earth", ["ground"]),
        (["tr"], "akü bitti", ["akü", "bitti"]),
    ],
)
def test_a_word_is_read_in_the_language_that_is_written(
    languages: list[str], text: str, words: list[str]
) -> None:
    assert words_of(text, speech=speech_in(languages)) == words


@pytest.mark.parametrize("speech", LISTS)
def test_a_list_says_one_thing_and_keeps_words_that_english_keeps(speech: Speech) -> None:
    for said, kept in speech.trade.items():
        assert words_of(said, speech=speech) == [kept]
        assert words_of(kept, speech=IN_ENGLISH) == [kept]
        assert said == said.casefold()
        assert said not in speech.fillers


def test_a_german_case_is_found_by_english_words_and_the_other_way(cast: Cast) -> None:
    for complaint in ("Horn silent.", "Wipers dead.", "Fan slow."):
        shared(logged(cast, None, complaint=complaint, codes=()), by=cast.technician)
    case = logged(cast, None, complaint="Masse am Motor verrostet", codes=())
    shared(case, by=cast.technician)

    def found(words: str) -> list[str]:
        result = search_cases(user=cast.outsider, at=MONDAY, words=words)
        return [hit.case.key for hit in result.hits]

    assert found("ground corrosion") == []
    set_languages(shop=cast.shop, languages=["de", "en"], by=cast.technician)
    run_jobs()

    assert {"ground", "corrosion", "engine"} <= set(searched_words(case))
    assert found("ground corrosion") == [case.key]
    assert found("Masse") == []
    set_languages(shop=cast.other_shop, languages=["de"], by=cast.outsider)
    assert found("Masse") == [case.key]


def test_what_is_marked_is_read_as_it_was_written() -> None:
    german = speech_in(["de"])

    assert ("Masse", True) in list(marked("Die Masse fehlt", {"ground"}, speech=german))
    assert list(marked("Die Masse fehlt", {"ground"})) == [("Die Masse fehlt", False)]


def test_a_word_counts_only_where_its_language_is_written(cast: Cast) -> None:
    case: Case = logged(cast, None, complaint="The klepto hums.", codes=())
    with pytest.raises(BadFact, match="add nl to its languages first"):
        add_word(shop=cast.shop, language="nl", said="klepto", kept="valve", by=cast.technician)
    set_languages(shop=cast.shop, languages=["en", "nl"], by=cast.technician)
    add_word(shop=cast.shop, language="nl-BE", said="klepto", kept="valve", by=cast.technician)
    run_jobs()
    assert "valve" in searched_words(case)
    set_languages(shop=cast.shop, languages=["en"], by=cast.technician)
    run_jobs()

    assert "klepto" in searched_words(case)
    assert "valve" not in searched_words(case)


@pytest.mark.parametrize("languages", [[], ["English"], ["en", "de", "nl", "fr", "it"], [""]])
def test_what_are_no_languages_is_refused(cast: Cast, languages: list[str]) -> None:
    with pytest.raises(BadFact) as refused:
        set_languages(shop=cast.shop, languages=languages, by=cast.technician)

    assert refused.value.field == "languages"
    with pytest.raises(NotAMember):
        set_languages(shop=cast.shop, languages=["en"], by=cast.outsider)


def test_the_page_sets_the_languages(cast: Cast, client) -> None:
    client.force_login(cast.technician)
    sent = {"shop": cast.shop.pk, "languages": "de, en"}

    assert client.post("/cases/words/languages/", sent).status_code == 302
    assert b'value="de, en"' in client.get("/cases/words/").content
    assert client.post("/cases/words/languages/", {**sent, "languages": "?"}).status_code == 422
    client.force_login(cast.outsider)
    assert client.post("/cases/words/languages/", sent).status_code == 422
    cast.shop.refresh_from_db()
    assert cast.shop.languages == ["de", "en"]
