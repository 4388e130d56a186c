"""What a typed word may have been meant to be, among the words that the searcher may see."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cases.search.scoring import WORD_WEIGHT, rarity_points
from cases.search.segment import Segment
from cases.search.sight import Sight
from cases.search.words import near_words

MOST_MEANINGS = 5


@dataclass(frozen=True, slots=True)
class Meaning:
    """A word that cases have, which may be the one meant; what sharing it is worth."""

    text: str
    term: int
    likeness: float
    points: float


@dataclass(frozen=True, slots=True)
class TypedWord:
    """A word as typed and what it may mean, what is worth most first."""

    word: str
    meanings: tuple[Meaning, ...]

    @property
    def is_read_as_typed(self) -> bool:
        return any(meaning.text == self.word for meaning in self.meanings)

    @property
    def likeliest(self) -> Meaning:
        return max(self.meanings, key=lambda meaning: (meaning.likeness, meaning.points))


def spell(words: Iterable[str], sight: Sight) -> list[TypedWord]:
    """Return the words asked for as cases in sight have them; unknown ones mean nothing.

    A word that a visible case has stands for itself alone. Hidden cases lend none of theirs.
    """
    asked = list(words)
    segments = [view.segment for view in sight.views]
    numbers = _numbers(asked, segments)
    exact = {word: _exact(word, numbers.get(word), sight) for word in asked}
    near = {word: {} if exact[word] else _near(word, segments) for word in asked}
    terms = {term for found in near.values() for term in found}
    for segment in segments:
        segment.load(terms)
    taken = set(asked)
    spelled = []
    for word in asked:
        seen = list(exact[word])
        for term, (other, likeness) in near[word].items():
            having = sight.count(term) if other not in taken else 0
            if having:
                points = likeness * rarity_points(having, sight.observations, WORD_WEIGHT)
                seen.append(Meaning(other, term, likeness, points))
        best = sorted(seen, key=lambda each: (-each.likeness, each.text))[:MOST_MEANINGS]
        taken.update(meaning.text for meaning in best)
        ranked = sorted(best, key=lambda each: (-each.points, each.text))
        spelled.append(TypedWord(word, tuple(ranked)))
    return spelled


def _numbers(words: Sequence[str], segments: Iterable[Segment]) -> dict[str, int]:
    """Return the numbers of those words that a case has, whoever may see it."""
    found: dict[str, int] = {}
    for segment in segments:
        found |= {word: segment.words[word] for word in words if word in segment.words}
    for segment in segments:
        segment.load(found.values())
    return found


def _exact(word: str, term: int | None, sight: Sight) -> list[Meaning]:
    """Return the word itself, if a visible case has it."""
    having = sight.count(term) if term is not None else 0
    if term is None or not having:
        return []
    return [Meaning(word, term, 1.0, rarity_points(having, sight.observations, WORD_WEIGHT))]


def _near(word: str, segments: Iterable[Segment]) -> dict[int, tuple[str, float]]:
    """Return the words, by term, that a word may stand for, whoever may see them."""
    return {
        segment.words[other]: (other, likeness)
        for segment in segments
        for other, likeness in near_words(word, segment.words, segment.words_by_letter)
    }


def read_as(spelled: Sequence[TypedWord]) -> dict[str, tuple[str, ...]]:
    """Return the words that were taken for others, and for which."""
    return {
        typed.word: tuple(meaning.text for meaning in typed.meanings)
        for typed in spelled
        if typed.meanings and not typed.is_read_as_typed
    }
