"""From a complaint to words that can be compared: small letters, one word for one thing.

Spelling is mended only when a search is made, and only against words of cases that the searcher
may see.
"""

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final

from rapidfuzz import process
from rapidfuzz.distance import OSA

from cases.search.speech import ENGLISH, Speech, speech_in

LONGEST_WORD = 60
LEAST_LIKENESS = 0.8
SHORTEST_MENDED = 5

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)?")

IN_ENGLISH: Final = speech_in([ENGLISH])


def words_of(*texts: str, speech: Speech = IN_ENGLISH) -> list[str]:
    """Return the telling words of texts, each once, in the order they come.

    `speech` is that of the people who wrote them.

    >>> from cases.search.words import words_of
    >>> words_of("The ALTERNATOR lamp's on, and the lamps flicker")
    ['generator', 'light', 'flicker']
    """
    found: dict[str, None] = {}
    for text in texts:
        for word in typed_words(text):
            kept = _one_word(word, speech)
            if kept:
                found[speech.own.get(kept, kept)] = None
    return list(found)


def typed_words(text: str) -> list[str]:
    """Return all words of a text in small letters."""
    plain = unicodedata.normalize("NFKC", text).casefold().replace("’", "'")
    return _WORD.findall(plain)


def marked(
    text: str, words: Collection[str], *, speech: Speech = IN_ENGLISH
) -> Iterator[tuple[str, bool]]:
    """Yield a text in pieces, each with whether it says one of the kept words.

    >>> from cases.search.words import marked
    >>> list(marked("The lamps flicker", {"light"}))
    [('The ', False), ('lamps', True), (' flicker', False)]
    """
    end = 0
    for found in _WORD.finditer(text):
        if not set(words).isdisjoint(words_of(found.group(), speech=speech)):
            if found.start() > end:
                yield text[end : found.start()], False
            yield found.group(), True
            end = found.end()
    if end < len(text):
        yield text[end:], False


def _one_word(word: str, speech: Speech) -> str:
    if word in speech.fillers or len(word) < 2 or word.isdigit() or len(word) > LONGEST_WORD:
        return ""
    if word in speech.trade:
        return speech.trade[word]
    if not speech.plural_s:
        return word
    word = word.removesuffix("'s")
    if word in speech.trade:
        return speech.trade[word]
    single = _singular(word)
    return "" if single in speech.fillers else speech.trade.get(single, single)


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return f"{word[:-3]}y"
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


def near_words(
    word: str, vocabulary: Collection[str], by_letter: Mapping[str, Sequence[str]]
) -> Iterator[tuple[str, float]]:
    """Yield the words of a vocabulary that a word may stand for, with likeness; itself first.

    Any word may be a slip of the keys, but not in its first letter and not if it is short: a pump
    is no bump.
    """
    if word in vocabulary:
        yield word, 1.0
    if len(word) < SHORTEST_MENDED:
        return
    near = process.extract_iter(
        word,
        [other for other in by_letter.get(word[0], ()) if len(other) >= SHORTEST_MENDED],
        scorer=OSA.normalized_similarity,
        score_cutoff=LEAST_LIKENESS,
    )
    for other, likeness, _ in near:
        if other != word:
            yield other, float(likeness)
