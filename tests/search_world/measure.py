"""What search costs and how well it finds, in a base of so many cases; told, never asserted.

python3 manage.py test --long        (a million, within the benchmarks)
COPPERLOG_SEARCH_CASES=50000         a smaller base
"""

import multiprocessing
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from django.contrib.auth.models import User
from django.db import connection, connections

from cases.search.query import Query
from cases.search.results import SearchResult
from cases.search.scope import scope_of
from cases.search.similar import find_similar
from tests.search_world.asking import LISTED, Asked, Oracle, gain_at_ten
from tests.search_world.loading import NOW
from tests.search_world.world import World

Find = Callable[[Query], SearchResult]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """Means over some queries; `best` is what the oracle reaches."""

    gain: float
    in_first_three: float
    best_gain: float
    best_in_first_three: float
    calibration_error: float

    @property
    def words(self) -> str:
        return (
            f"nDCG@10 {self.gain:.3f} of the oracle's {self.best_gain:.3f} "
            f"({self.gain / self.best_gain:.0%}), right fault in the first three "
            f"{self.in_first_three:.3f} of {self.best_in_first_three:.3f}, "
            f"calibration error {self.calibration_error:.3f}"
        )


def quality(world: World, user: User, asked: Sequence[Asked]) -> Quality:
    """Return how well search finds, beside the oracle."""
    oracle, scope = Oracle(world), scope_of(user)
    gain, first, best_gain, best_first = [], [], [], []
    stated, right = [], []
    for each in asked:
        grouped = find_similar(each.query, scope, at=NOW)
        listed = find_similar(each.query, scope, at=NOW, per_fault=LISTED)
        hits = [group.key == each.name for group in listed.groups for _ in group.hits]
        order = oracle.ranked(each, prior=0.5)
        gain.append(gain_at_ten(hits, LISTED))
        first.append(each.name in [group.key for group in grouped.groups[:3]])
        best_gain.append(float(order[0] == each.truth))
        best_first.append(each.truth in order[:3])
        likely = [group for group in grouped.groups if group.probability is not None]
        if likely:
            surest = max(likely, key=lambda group: group.probability or 0.0)
            stated.append(surest.probability or 0.0)
            right.append(surest.key == each.name)
    return Quality(
        gain=float(np.mean(gain)),
        in_first_three=float(np.mean(first)),
        best_gain=float(np.mean(best_gain)),
        best_in_first_three=float(np.mean(best_first)),
        calibration_error=calibration_error(np.array(stated), np.array(right)),
    )


def calibration_error(stated: np.ndarray, right: np.ndarray) -> float:
    """Return the expected calibration error over ten bins (Naeini 2015, from memory)."""
    bins = np.clip((stated * 10).astype(int), 0, 9)
    return float(
        sum(
            abs(stated[bins == each].mean() - right[bins == each].mean()) * (bins == each).mean()
            for each in range(10)
            if (bins == each).any()
        )
    )


def milliseconds(function: Callable[[Asked], object], asked: Sequence[Asked]) -> np.ndarray:
    """Return how long each query takes."""
    took = []
    for each in asked:
        began = time.perf_counter()
        function(each)
        took.append((time.perf_counter() - began) * 1e3)
    return np.array(took)


def at_once(
    function: Callable[[Asked], object], asked: Sequence[Asked], clients: int
) -> tuple[np.ndarray, float]:
    """Return how long each query takes where several processes ask, and their queries a second.

    What was written has to be committed: each of them has a connection of its own.
    """
    connections.close_all()
    context = multiprocessing.get_context("fork")
    answers = context.SimpleQueue()
    asking = [
        context.Process(target=lambda: answers.put(milliseconds(function, asked).tolist()))
        for _ in range(clients)
    ]
    began = time.perf_counter()
    for each in asking:
        each.start()
    took = np.concatenate([answers.get() for _ in asking])
    seconds = time.perf_counter() - began
    for each in asking:
        each.join()
    return took, len(took) / seconds


def size_in_megabytes() -> float:
    """Return what segments and postings take in the database."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_total_relation_size('cases_searchposting')"
            " + pg_total_relation_size('cases_searchsegment')"
            " + pg_total_relation_size('cases_searchcolumn')"
        )
        return float(cursor.fetchone()[0]) / 1e6
