"""Search beside other ways to find, on the same cases and queries; told, not asserted."""

import os

import numpy as np
import pytest

from cases.search.scope import scope_of
from cases.search.segments import all_rooms
from cases.search.similar import find_similar
from cases.services.search_upkeep import build_rooms
from tests.search_world.asking import LISTED, Asked, gain_at_ten, queries_of
from tests.search_world.loading import NOW, Loader
from tests.search_world.rivals import Bm25, FullText, Rival, vectors_if_there
from tests.search_world.world import World

CASES = int(os.environ.get("COPPERLOG_RIVAL_CASES", "200000"))
QUERIES = 200
# Of the seed that the weights were looked at with none is used here.
CASE_SEED, COMMON_SEED, UNIFORM_SEED = 1301, 1302, 1303


@pytest.mark.long
@pytest.mark.django_db
def test_search_beside_other_ways(capsys: pytest.CaptureFixture[str]) -> None:
    """By nDCG@10; our ten are the best cases, not three of each fault, as theirs are."""
    world = World(CASE_SEED)
    drawn = world.cases(CASES)
    loader = Loader(world)
    loader.load(drawn)
    build_rooms(all_rooms(), at=NOW)
    scope = scope_of(loader.user)

    def ours(asked: Asked) -> list[str]:
        listed = find_similar(asked.query, scope, at=NOW, per_fault=LISTED)
        return [group.key for group in listed.groups for _ in group.hits]

    vectors = vectors_if_there(world, drawn)
    rivals: list[Rival] = [FullText(world, drawn), Bm25(world, drawn)]
    if vectors is not None:
        rivals.append(vectors)
    lines = [f"{CASES} cases, {QUERIES} queries each, nDCG@10:"]
    for faults, seed in (("common", COMMON_SEED), ("uniform", UNIFORM_SEED)):
        world.random = np.random.default_rng(seed)
        asked = list(queries_of(world, world.queries(QUERIES, uniform=faults == "uniform")))
        gains = {"search": np.mean([_gain(each, ours(each)) for each in asked])}
        for rival in rivals:
            gains[rival.name] = np.mean([_gain(each, rival.found(each)) for each in asked])
        found = ", ".join(f"{name} {gain:.3f}" for name, gain in gains.items())
        lines.append(f"{faults} faults: {found}")
    if vectors is None:
        lines.append("no vectors: pgvector is not there, or only a superuser may create it")
    with capsys.disabled():
        print("", *lines, sep="\n")  # noqa: T201

    assert len(lines) >= 3


def _gain(asked: Asked, faults: list[str]) -> float:
    return gain_at_ten([fault == asked.name for fault in faults], LISTED)
