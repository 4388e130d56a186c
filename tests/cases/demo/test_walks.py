"""The demo's walk-throughs: every figure in a sentence is one of the drawing beside it."""

import re
import xml.etree.ElementTree as ET

import pytest

from cases.demo import load
from cases.demo.stories import WalkStory, read_walks
from circuits.models import Circuit, Walk
from circuits.walks import ShownStep, shown_steps
from tests.cases.demo.conftest import TODAY

FIGURE = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) (m?[VA])\b")
WALKS = read_walks()


def figures_of(words: str) -> set[tuple[float, str]]:
    return {(float(number), unit) for number, unit in FIGURE.findall(words)}


def drawn_figures(shown: ShownStep) -> set[tuple[float, str]]:
    texts = ET.fromstring(shown.drawing.svg).iter("{http://www.w3.org/2000/svg}text")
    return figures_of(" | ".join(text.text or "" for text in texts))


@pytest.mark.parametrize("story", WALKS, ids=[story.circuit for story in WALKS])
def test_the_figures_of_a_sentence_stand_in_the_drawing_beside_it(
    story: WalkStory, demo: None
) -> None:
    steps = shown_steps(Walk.objects.get(circuit__key=story.circuit, title=story.title))
    told = 0
    for shown in steps:
        assert shown.missing == ()
        assert figures_of(shown.sentence) <= drawn_figures(shown), shown.sentence
        told += len(figures_of(shown.sentence))

    assert len(steps) == len(story.step)
    assert told > 2


def test_a_second_load_writes_no_walk_through_twice(demo: None) -> None:
    load(now=TODAY)

    assert Walk.objects.count() == len(WALKS)
    assert {walk.circuit_id for walk in Walk.objects.all()} == set(
        Circuit.objects.filter(key__in=[story.circuit for story in WALKS]).values_list(
            "pk", flat=True
        )
    )
