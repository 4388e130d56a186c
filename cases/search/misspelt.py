"""What a word that is being typed may have been meant to be: asked of who types, never changed.

Only against words of the trade and of the shop: nobody learns what other people wrote.
"""

from collections.abc import Mapping
from functools import lru_cache

from cases.search.speech import Speech
from cases.search.words import SHORTEST_MENDED, near_words, typed_words

#: Nobody reads more than a few questions beside a field.
MOST_ASKED = 6
MOST_MEANT = 2
# Words bend at their end: heated is no slip for heater.
BENDING_END = 2


def likely_meant(text: str, speech: Speech) -> dict[str, tuple[str, ...]]:
    """Return the words of a text that are near a known one and are none, with what may be meant.

    >>> from cases.search.misspelt import likely_meant
    >>> from cases.search.words import IN_ENGLISH
    >>> likely_meant("New altenator, heated seat, zephyrine", IN_ENGLISH)
    {'altenator': ('alternator',)}
    """
    known = speech.known
    by_letter = _by_letter(known)
    found: dict[str, tuple[str, ...]] = {}
    for word in typed_words(text):
        if word in found or _is_known(word, speech):
            continue
        near = [
            (-likeness, other)
            for other, likeness in near_words(word, known, by_letter)
            if not _bends(word, other)
        ]
        if near:
            found[word] = tuple(other for _, other in sorted(near)[:MOST_MEANT])
        if len(found) == MOST_ASKED:
            break
    return found


def _is_known(word: str, speech: Speech) -> bool:
    if word in speech.known or word in speech.fillers:
        return True
    return speech.plural_s and word.removesuffix("'s").removesuffix("s") in speech.known


def _bends(word: str, other: str) -> bool:
    """Whether two words differ in their ending alone."""
    stem = max(len(word), len(other)) - BENDING_END
    return stem >= SHORTEST_MENDED - 1 and word[:stem] == other[:stem]


@lru_cache(maxsize=100)
def _by_letter(known: frozenset[str]) -> Mapping[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for word in sorted(known):
        found.setdefault(word[0], []).append(word)
    return {letter: tuple(words) for letter, words in found.items()}
