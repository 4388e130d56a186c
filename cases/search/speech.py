"""How people write: what the trade says in a language, and what a shop says besides.

All languages keep the same words, so a case in one is found by what is asked in another. What says
nothing in one language may be a word in another: a list counts only where its language is written.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Final

LISTS = Path(__file__).parent / "languages"
#: The languages whose words of the trade are known.
KNOWN_LANGUAGES: Final = tuple(sorted(path.stem for path in LISTS.glob("*.toml")))
ENGLISH: Final = "en"


@dataclass(frozen=True, kw_only=True)
class Speech:
    """What some people write.

    `fillers` tell nothing; `trade` has the word that is kept for what the trade says, `own` for
    what they alone say. With `plural_s` an s at the end of a word makes many of one thing.
    """

    fillers: frozenset[str]
    trade: Mapping[str, str]
    plural_s: bool
    own: Mapping[str, str] = field(default_factory=dict)
    spelled: frozenset[str] = frozenset()

    @cached_property
    def known(self) -> frozenset[str]:
        """All words that tell something, as people write them."""
        return self.spelled.union(self.trade, self.own, self.own.values())


def language_of(tag: str) -> str:
    """Return the language of a tag, its region left out: `en` of `en-GB` (RFC 5646)."""
    return tag.partition("-")[0].lower()


def speech_in(languages: Iterable[str], own: Iterable[tuple[str, str, str]] = ()) -> Speech:
    """Return how people write who write these languages; of two lists the first one's word holds.

    `own` are words of theirs: language, what is said, and the word that is kept for it. Those of
    languages that they do not write are left out.
    """
    written = tuple(dict.fromkeys(map(language_of, languages)))
    said = {one: kept for tag, one, kept in own if language_of(tag) in written}
    return replace(_trade(written), own=said)


@lru_cache(maxsize=100)
def _trade(languages: tuple[str, ...]) -> Speech:
    lists = [_list_of(language) for language in languages if language in KNOWN_LANGUAGES]
    trade = {said: kept for each in reversed(lists) for said, kept in each.trade.items()}
    fillers = frozenset().union(*(each.fillers for each in lists))
    return Speech(
        fillers=fillers - trade.keys(),
        trade=trade,
        plural_s=any(each.plural_s for each in lists),
        spelled=frozenset().union(*(each.spelled for each in lists)),
    )


@lru_cache(maxsize=100)
def _list_of(language: str) -> Speech:
    found = tomllib.loads((LISTS / f"{language}.toml").read_text(encoding="utf-8"))
    return Speech(
        fillers=frozenset(found["fillers"].split()),
        trade={said: kept for kept, every in found["kept"].items() for said in every.split()},
        plural_s=found["plural_s"],
        spelled=frozenset(found["spelled"].split()),
    )
