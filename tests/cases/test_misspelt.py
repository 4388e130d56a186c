"""Words that may be misspelt are asked about at entry, and only against what the asker may know.

Right spellings are those of English, German and Dutch dictionaries, from memory.
"""

from typing import Any

import pytest
from django.test import Client

from cases.search.misspelt import MOST_ASKED, likely_meant
from cases.search.speech import KNOWN_LANGUAGES, speech_in
from cases.services.words import add_word, set_languages, words_in_doubt
from tests.cast import Cast, logged


@pytest.mark.parametrize(
    ("language", "typed", "meant"),
    [
        ("en", "The altenator whines", {"altenator": "alternator"}),
        ("en", "Batery and conector corroded", {"batery": "battery", "conector": "connector"}),
        ("en", "BATERY", {"batery": "battery"}),
        # right, in the plural, bent at the end, short, or a name
        ("en", "Batteries, sensors, heated, fuze, Tolvane", {}),
        ("de", "Die Lichtmaschiene", {"lichtmaschiene": "lichtmaschine"}),
        ("nl", "Zekerring van de sartmotor", {"zekerring": "zekering", "sartmotor": "startmotor"}),
        ("tr", "altenator", {}),
    ],
)
def test_a_word_beside_a_known_one_is_asked_about(
    language: str, typed: str, meant: dict[str, str]
) -> None:
    found = likely_meant(typed, speech_in([language]))

    assert {word: first for word, (first, *_) in found.items()} == meant


@pytest.mark.parametrize("language", KNOWN_LANGUAGES)
def test_no_word_of_a_list_is_asked_about(language: str) -> None:
    speech = speech_in([language])
    for word in speech.known:
        assert likely_meant(word, speech) == {}


def test_nobody_is_asked_about_more_than_a_few_words() -> None:
    slips = "altenator batery conector igniton solenid resistence voltmetter"

    assert len(likely_meant(slips, speech_in(["en"]))) == MOST_ASKED < len(slips.split())


def test_a_shop_is_asked_by_its_own_words_and_by_nobody_elses(cast: Cast) -> None:
    add_word(shop=cast.shop, language="en", said="gronkulator", kept="generator", by=cast.owner)
    logged(cast, None, complaint="The zephyriser hums.", codes=())

    typed = "gronkolator and zephyrizer"
    assert words_in_doubt(text=typed, by=cast.technician) == {"gronkolator": ("gronkulator",)}
    assert words_in_doubt(text=typed, by=cast.outsider) == {}


def test_the_languages_of_the_shop_decide(cast: Cast) -> None:
    assert words_in_doubt(text="Kabbelbaum", by=cast.technician) == {}
    set_languages(shop=cast.shop, languages=["en", "de"], by=cast.owner)

    assert words_in_doubt(text="Kabbelbaum", by=cast.technician) == {"kabbelbaum": ("kabelbaum",)}


def test_the_page_asks_and_leaves_the_text_alone(cast: Cast) -> None:
    browser: Any = Client()
    browser.force_login(cast.technician)
    sent = {"complaint": "<b>altenator</b> whines", "asks": "complaint"}
    answer = browser.post("/cases/words/spelling/", sent).content.decode()

    assert 'data-typed="altenator" data-meant="alternator"' in answer
    assert "<b>" not in answer
    assert browser.post("/cases/words/spelling/", {"asks": "complaint"}).content.strip() == b""
    page = browser.get("/cases/new/").content.decode()
    assert page.count('hx-post="/cases/words/spelling/"') == 2
