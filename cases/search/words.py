"""From a complaint to words that can be compared: small letters, one word for one thing.

The list of synonyms is the trade's daily speech, from experience, no source. Spelling is mended
only when a search is made, and only against words of cases that the searcher may see.
"""

import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from types import MappingProxyType

from rapidfuzz import process
from rapidfuzz.distance import OSA

LONGEST_WORD = 60
LEAST_LIKENESS = 0.8
SHORTEST_MENDED = 5

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)?")

_STOP_TEXT = """
a about after again all also am an and any are as at be because been before being but by can
cannot could did do does doing down for from get gets getting go goes going got had has have he
her here him his how i if in into is it its itself just like me my not now of off on once only or
other our out over own same she should so some still such than that the their them then there
these they this those through to too under until up very was we were what when where which while
who why will with would you your im ive it's i'm i've don't doesn't didn't won't can't isn't
wasn't thing things removed
"""
_STOP_WORDS = frozenset(_STOP_TEXT.split())

#: What is said -> the word we keep.
SYNONYMS = {
    "alternator": "generator",
    "alt": "generator",
    "dynamo": "generator",
    "bat": "battery",
    "batt": "battery",
    "accu": "battery",
    "accumulator": "battery",
    "earth": "ground",
    "earthing": "ground",
    "gnd": "ground",
    "grounding": "ground",
    "grounded": "ground",
    "lamp": "light",
    "bulb": "light",
    "globe": "light",
    "headlamp": "headlight",
    "blinker": "indicator",
    "winker": "indicator",
    "connector": "plug",
    "conn": "plug",
    "terminal": "pin",
    "term": "pin",
    "ecu": "module",
    "ecm": "module",
    "pcm": "module",
    "controller": "module",
    "motorway": "road",
    "highway": "road",
    "petrol": "fuel",
    "gasoline": "fuel",
    "diesel": "fuel",
    "blower": "fan",
    "cranking": "crank",
    "cranks": "crank",
    "cranked": "crank",
    "starting": "start",
    "starts": "start",
    "started": "start",
    "stalls": "stall",
    "stalled": "stall",
    "stalling": "stall",
    "dies": "stall",
    "died": "stall",
    "cuts": "stall",
    "temp": "temperature",
    "volt": "voltage",
    "volts": "voltage",
    "corroded": "corrosion",
    "rusty": "corrosion",
    "rust": "corrosion",
    "green": "corrosion",
    "braided": "strap",
    "braking": "brake",
    "braked": "brake",
    "drains": "drain",
    "drained": "drain",
    "hood": "bonnet",
    "trunk": "boot",
}

NOTHING_ELSE: Mapping[str, str] = MappingProxyType({})


def words_of(*texts: str, said: Mapping[str, str] = NOTHING_ELSE) -> list[str]:
    """Return the telling words of texts, each once, in the order they come.

    `said` is a shop's own list: what its people say, and the word that is kept for it.

    >>> from cases.search.words import words_of
    >>> words_of("The ALTERNATOR lamp's on, and the lamps flicker")
    ['generator', 'light', 'flicker']
    """
    found: dict[str, None] = {}
    for text in texts:
        plain = unicodedata.normalize("NFKC", text).casefold().replace("’", "'")
        for word in _WORD.findall(plain):
            kept = _one_word(word)
            if kept:
                found[said.get(kept, kept)] = None
    return list(found)


def marked(
    text: str, words: Collection[str], *, said: Mapping[str, str] = NOTHING_ELSE
) -> Iterator[tuple[str, bool]]:
    """Yield a text in pieces, each with whether it says one of the kept words.

    >>> from cases.search.words import marked
    >>> list(marked("The lamps flicker", {"light"}))
    [('The ', False), ('lamps', True), (' flicker', False)]
    """
    end = 0
    for found in _WORD.finditer(text):
        if not set(words).isdisjoint(words_of(found.group(), said=said)):
            if found.start() > end:
                yield text[end : found.start()], False
            yield found.group(), True
            end = found.end()
    if end < len(text):
        yield text[end:], False


def _one_word(word: str) -> str:
    if word in _STOP_WORDS or len(word) < 2 or word.isdigit() or len(word) > LONGEST_WORD:
        return ""
    word = word.removesuffix("'s")
    if word in SYNONYMS:
        return SYNONYMS[word]
    single = _singular(word)
    return "" if single in _STOP_WORDS else SYNONYMS.get(single, single)


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
