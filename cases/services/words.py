"""The words of a shop: what its people say, and the word that search keeps for it."""

import re
from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from procrastinate.contrib.django import app as queue

from cases.errors import BadFact
from cases.models import Case, Shop, ShopWord
from cases.search.evidence import write_evidence
from cases.search.words import words_of
from cases.services.record import latest_verdict
from cases.services.shops import require_member

READ_WORDS_ANEW = "read_words_anew"
MOST_WORDS = 2000
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
    if not _LANGUAGE.fullmatch(language.strip()):
        raise BadFact("language", "write it as the web does: en, de, nl or en-GB.")
    one, other = _one_word("said", said), _one_word("kept", kept)
    if one == other:
        raise BadFact("kept", f"'{said}' is read as '{other}' already.")
    if ShopWord.objects.filter(shop=shop).count() >= MOST_WORDS:
        raise BadFact("said", f"a shop can have {MOST_WORDS} words; take one away first.")
    try:
        with transaction.atomic():
            word = ShopWord.objects.create(
                shop=shop, language=language.strip(), said=one, kept=other
            )
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


def _one_word(field: str, text: str) -> str:
    """Return a text as one word of search, by the trade's own list of synonyms."""
    found = words_of(text)
    if len(found) != 1:
        raise BadFact(field, "give one telling word, such as 'dynamo'; no number, no filler.")
    return found[0]
