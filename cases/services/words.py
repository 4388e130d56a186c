"""The words of a shop: its languages, what its people say, and the word that search keeps."""

import re
from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from procrastinate.contrib.django import app as queue

from cases.errors import BadFact
from cases.models import Case, Shop, ShopWord
from cases.search.evidence import speech_of, write_evidence
from cases.search.misspelt import likely_meant
from cases.search.speech import Speech, language_of, speech_in
from cases.search.words import IN_ENGLISH, words_of
from cases.services.record import latest_verdict
from cases.services.shops import require_member

READ_WORDS_ANEW = "read_words_anew"
MOST_WORDS = 2000
MOST_LANGUAGES = 4
#: Of a longer text the end is not looked at.
LONGEST_TEXT = 20_000
# A language as the web names it, RFC 5646: two or three letters, perhaps a region.
_LANGUAGE = re.compile(r"[a-z]{2,3}(?:-[A-Z]{2})?")


@transaction.atomic
def add_word(*, shop: Shop, language: str, said: str, kept: str, by: User) -> ShopWord:
    """Let search take one word for another in what this shop writes and asks.

    Raises
    ------
    NotAMember, BadFact
        It is not this person's shop, or the words are none.
    """
    require_member(shop, by)
    language = _language("language", language)
    if language_of(language) not in map(language_of, shop.languages):
        raise BadFact(
            "language",
            f"{shop.name} writes {', '.join(shop.languages)}; add {language_of(language)} to its"
            " languages first.",
        )
    one = _one_word("said", said, speech_in([language]))
    other = _one_word("kept", kept, IN_ENGLISH)
    if one == other:
        raise BadFact("kept", f"'{said}' is read as '{other}' already.")
    if ShopWord.objects.filter(shop=shop).count() >= MOST_WORDS:
        raise BadFact("said", f"a shop can have {MOST_WORDS} words; take one away first.")
    try:
        with transaction.atomic():
            word = ShopWord.objects.create(shop=shop, language=language, said=one, kept=other)
    except IntegrityError:
        raise BadFact("said", f"'{one}' is on the list already; take it away first.") from None
    _read_anew(shop)
    return word


@transaction.atomic
def remove_word(*, word: ShopWord, by: User) -> None:
    """Take a word off the list again."""
    require_member(word.shop, by)
    shop = word.shop
    word.delete()
    _read_anew(shop)


@transaction.atomic
def set_languages(*, shop: Shop, languages: Sequence[str], by: User) -> Shop:
    """Say in which languages the people of a shop write; of two lists the first one's word holds.

    Raises
    ------
    NotAMember, BadFact
        It is not this person's shop, or what is given are no languages.
    """
    require_member(shop, by)
    wanted = list(dict.fromkeys(language_of(_language("languages", each)) for each in languages))
    if not 1 <= len(wanted) <= MOST_LANGUAGES:
        raise BadFact("languages", f"give one to {MOST_LANGUAGES} languages.")
    if wanted != shop.languages:
        shop.languages = wanted
        shop.save(update_fields=["languages"])
        _read_anew(shop)
    return shop


def words_in_doubt(*, text: str, by: User) -> dict[str, tuple[str, ...]]:
    """Return the words of a text that may be misspelt, with what this person may have meant.

    Known are the words of the trade in the languages of their shops, and those on the shops' lists.
    """
    shops = Shop.objects.visible_to(by).values_list("pk", flat=True)
    return likely_meant(text[:LONGEST_TEXT], speech_of(list(shops)))


def read_words_anew(*, shop: Shop, at: datetime) -> int:
    """Write what search keeps of a shop's texts by its list as it is now; return of how many."""
    cases = Case.objects.filter(shop=shop).order_by("pk").values_list("pk", flat=True)
    for pk in cases:
        with transaction.atomic():
            case = Case.objects.select_for_update(of=("self",)).select_related("shop").get(pk=pk)
            write_evidence(case, latest_verdict(case), at=at)
    return len(cases)


def _read_anew(shop: Shop) -> None:
    queue.configure_task(READ_WORDS_ANEW).defer(shop_pk=shop.pk)


def _language(field: str, tag: str) -> str:
    if not _LANGUAGE.fullmatch(tag.strip()):
        raise BadFact(field, "write a language as the web does: en, de, nl or en-GB.")
    return tag.strip()


def _one_word(field: str, text: str, speech: Speech) -> str:
    """Return a text as one word of search, as people write who speak so."""
    found = words_of(text, speech=speech)
    if len(found) != 1:
        raise BadFact(field, "give one telling word, such as 'dynamo'; no number, no filler.")
    return found[0]
