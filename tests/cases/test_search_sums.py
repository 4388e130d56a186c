"""What search adds up: sizes, the kernel, how rare a thing is, words that are one."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.search.evidence import size_of
from cases.search.points import largest
from cases.search.scoring import kernel_table, rarity_points, shares_of
from cases.search.words import near_words, words_of


@settings(deadline=None)
@given(st.floats(-1e6, 1e6))
def test_sizes_keep_sign_and_order(distance: float) -> None:
    assert size_of(-distance) == -size_of(distance)
    assert abs(size_of(distance)) <= abs(size_of(2 * distance))
    assert abs(size_of(distance) - math.copysign(math.log2(1 + abs(distance)), distance)) <= 1 / 32


def test_the_kernel_is_the_one_described() -> None:
    """Query sizes 3 and 0: weights 4 and 1, shares 0.8 and 0.2 of six points.

    Agreement is 2 exp(0) - 1 = 1; one doubling off 2 exp(-1/2) - 1 = 0.213; far off -1.
    """
    shares = shares_of([3.0, 0.0])
    far, near = (kernel_table(size, share) for size, share in zip([3.0, 0.0], shares, strict=True))

    assert shares == pytest.approx([0.8, 0.2])
    assert far[127 + 48] == pytest.approx(4.8)
    assert far[127 + 32] == pytest.approx(4.8 * 0.21306, abs=1e-4)
    assert near[127] == pytest.approx(1.2)
    assert near[127 + 127] == pytest.approx(-1.2, abs=1e-6)


@settings(deadline=None)
@given(st.lists(st.sampled_from([-math.inf, -1.0, 0.0, 0.5, 2.0]), max_size=12), st.integers(1, 14))
def test_the_largest_are_those_that_plain_sorting_gives(points, most) -> None:
    """Few stand out in a fault of thousands; what is no case at all is never listed, nor twice."""
    some = [place for place, value in enumerate(points) if value > -math.inf]
    some.sort(key=lambda place: -points[place])

    assert largest(np.array(points, np.float32), most) == some[:most]


def test_rarity_is_the_log_odds_of_having_it() -> None:
    """Two observations, one of which has a word: odds 1.5 to 1.5."""
    assert rarity_points(1, 2, 0.5) == pytest.approx(0.5 * math.log(1 + 1.5 / 1.5))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Lights go funny when I brake", ["light", "funny", "brake"]),
        ("Earth strap corroded!", ["ground", "strap", "corrosion"]),
        ("ALTERNATOR's whine", ["generator", "whine"]),
        ("12.4 V at 1, 2", []),
        ("", []),
    ],
)
def test_words_of_the_trade_are_made_one(text: str, words: list[str]) -> None:
    assert words_of(text) == words


@settings(deadline=None)
@given(st.text(max_size=200))
def test_any_text_gives_words_that_stay_what_they_are(text: str) -> None:
    words = words_of(text)

    assert len(words) == len(set(words))
    assert set(words_of(" ".join(words))) <= set(words) | {
        other for word in words for other in words_of(word)
    }


def near(word: str, *vocabulary: str) -> dict[str, float]:
    by_letter = {
        other[0]: [each for each in vocabulary if each[0] == other[0]] for other in vocabulary
    }
    return dict(near_words(word, vocabulary, by_letter))


def test_a_short_word_is_not_bent_into_another() -> None:
    assert near("fan", "pan", "fuse") == {}
    assert near("generater", "generator", "module")["generator"] > 0.8
