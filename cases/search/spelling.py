"""What a typed word may have been meant to be, among the words that the searcher may see."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cases.search.scoring import WORD_WEIGHT, rarity_points
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
    near = {
        word: {
            segment.words[other]: (other, likeness)
            for segment in segments
            for other, likeness in near_words(word, segment.words, segment.words_by_letter)
        }
        for word in asked
    }
    terms = {term for found in near.values() for term in found}
    for segment in segments:
        segment.load(terms)
    observations = sight.observations
    taken = set(asked)
    spelled = []
    for word in asked:
        seen = []
        for term, (other, likeness) in near[word].items():
            having = sight.count(term) if other == word or other not in taken else 0
            if having:
                points = likeness * rarity_points(having, observations, WORD_WEIGHT)
                seen.append(Meaning(other, term, likeness, points))
        exact = [meaning for meaning in seen if meaning.text == word]
        best = exact or sorted(seen, key=lambda each: (-each.likeness, each.text))[:MOST_MEANINGS]
        taken.update(meaning.text for meaning in best)
        ranked = sorted(best, key=lambda each: (-each.points, each.text))
        spelled.append(TypedWord(word, tuple(ranked)))
    return spelled


def read_as(spelled: Sequence[TypedWord]) -> dict[str, tuple[str, ...]]:
    """Return the words that were taken for others, and for which."""
    return {
        typed.word: tuple(meaning.text for meaning in typed.meanings)
        for typed in spelled
        if typed.meanings and not typed.is_read_as_typed
    }
