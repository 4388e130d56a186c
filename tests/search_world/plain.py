"""The scoring of search once more, in plain Python over dictionaries, for judging the quick one.

Slow on purpose, case by case and term by term, from the formulas in `cases.search.scoring` and
`cases.search.posterior` alone: no arrays, no postings, no order of rows. It knows no copies, no
narrowing and no misspelt words.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cases.models import CaseEvidence
from cases.search.evidence import STANDING_WORDS
from cases.search.posterior import (
    ENGINE_CASES,
    LOWEST_POINTS,
    OUTSIDE_SHARE,
    RANKING_PRIOR,
    UNSEEN_CASES,
)
from cases.search.scoring import (
    BINS,
    CODE_WEIGHT,
    FLOOR,
    KERNEL_WIDTH,
    READING_POINTS,
    STANDING_POINTS,
    STANDING_WEIGHTS,
    TELLING_SIZE,
    WORD_WEIGHT,
)


@dataclass(frozen=True, slots=True)
class PlainScore:
    """The points of a case, and whether something of its own makes it worth listing."""

    points: float
    is_alike: bool


@dataclass(frozen=True, slots=True)
class PlainCase:
    """One case as it is kept: sizes by slot in sixteenths, codes, words, the fault's number."""

    case: int
    fault: int
    standing: str
    sizes: Mapping[int, int]
    codes: frozenset[int]
    words: frozenset[int]


def plain_cases(room: str, shops: Sequence[int]) -> list[PlainCase]:
    """Return what a member of these shops may see of a room."""
    found = []
    for kept in CaseEvidence.objects.filter(room=room, is_withdrawn=False):
        if kept.is_shared or kept.shop_id in shops:
            sizes = [each - 256 if each > 127 else each for each in bytes(kept.sizes)]
            found.append(
                PlainCase(
                    kept.case_id,
                    kept.fault,
                    STANDING_WORDS[kept.standing],
                    dict(zip(_numbers(kept.slots), sizes, strict=True)),
                    frozenset(_numbers(kept.codes)),
                    frozenset(_numbers(kept.words)),
                )
            )
    return found


def _numbers(kept: bytes | memoryview) -> list[int]:
    data = bytes(kept)
    return [int.from_bytes(data[at : at + 4], "little") for at in range(0, len(data), 4)]


def plain_scores(
    cases: Sequence[PlainCase],
    faults: Mapping[int, float],
    sizes: Mapping[int, float],
    codes: Sequence[int],
    words: Sequence[int],
    predicted: Mapping[tuple[int, int], Sequence[float]],
) -> dict[int, PlainScore]:
    """Return the score of every case, alike or not.

    `faults` are those of the circuit with how common their kinds are; `predicted` has the engine's
    shares of the bins by slot and fault.
    """
    posterior = _log_posterior(cases, faults, sizes, codes, words, predicted)
    whole = sum(1 + abs(size) for size in sizes.values())
    scores = {}
    for case in cases:
        shared, tells = 0.0, False
        for slot, size in sizes.items():
            if slot in case.sizes:
                away = (case.sizes[slot] / 16 - size) / KERNEL_WIDTH
                share = (1 + abs(size)) / whole
                points = READING_POINTS * share * (2 * math.exp(-(away**2) / 2) - 1)
                shared += points
                tells |= points > 0 and abs(size) >= TELLING_SIZE
        for weight, asked, kind in ((CODE_WEIGHT, codes, "codes"), (WORD_WEIGHT, words, "words")):
            for term in asked:
                if term in getattr(case, kind):
                    having = sum(term in getattr(other, kind) for other in cases)
                    shared += weight * math.log(1 + (len(cases) - having + 0.5) / (having + 0.5))
                    tells = True
        of_fault = posterior.get(case.fault, 0.0)
        standing = STANDING_POINTS.get(case.standing, 0.0)
        scores[case.case] = PlainScore(shared + of_fault + standing, tells and shared >= FLOOR)
    return scores


def _log_posterior(
    cases: Sequence[PlainCase],
    faults: Mapping[int, float],
    sizes: Mapping[int, float],
    codes: Sequence[int],
    words: Sequence[int],
    predicted: Mapping[tuple[int, int], Sequence[float]],
) -> dict[int, float]:
    weigh = {case.case: STANDING_WEIGHTS.get(case.standing, 0.0) for case in cases}
    count = {
        fault: sum(weigh[case.case] for case in cases if case.fault == fault) for fault in faults
    }
    common = {fault: each + UNSEEN_CASES * faults[fault] for fault, each in count.items()}
    log = {
        fault: RANKING_PRIOR * math.log(each / sum(common.values()) * (1 - OUTSIDE_SHARE))
        for fault, each in common.items()
    }
    outside = RANKING_PRIOR * math.log(OUTSIDE_SHARE)
    for slot, size in sizes.items():
        asked_bin = _bin(round(size * 16))
        bins: dict[int, list[float]] = {fault: [0.0] * BINS for fault in faults}
        pool = [ENGINE_CASES / BINS] * BINS
        for case in cases:
            if slot in case.sizes:
                at = _bin(case.sizes[slot])
                pool[at] += weigh[case.case]
                if case.fault in bins:
                    bins[case.fault][at] += weigh[case.case]
        for fault in faults:
            own = bins[fault]
            spread = [
                0.2 * own[max(at - 1, 0)] + 0.6 * own[at] + 0.2 * own[min(at + 1, BINS - 1)]
                for at in range(BINS)
            ]
            imagined = predicted.get((slot, fault))
            share = imagined[asked_bin] if imagined is not None else pool[asked_bin] / sum(pool)
            chance = (spread[asked_bin] + ENGINE_CASES * share) / (sum(spread) + ENGINE_CASES)
            log[fault] += math.log(chance)
        outside += math.log(1 / BINS)
    for weight, asked, kind in ((1.0, codes, "codes"), (WORD_WEIGHT, words, "words")):
        for term in asked:
            having = [case for case in cases if term in getattr(case, kind)]
            everybody = (sum(weigh[case.case] for case in having) + 0.5) / (len(cases) + 1)
            for fault in faults:
                own_having = sum(weigh[case.case] for case in having if case.fault == fault)
                log[fault] += weight * math.log(
                    (own_having + ENGINE_CASES * everybody) / (count[fault] + ENGINE_CASES)
                )
            outside += weight * math.log(everybody)
    whole = math.log(sum(math.exp(each) for each in (*log.values(), outside)))
    alike = -math.log(len(faults) + 1)
    return {fault: max(each - whole - alike, LOWEST_POINTS) for fault, each in log.items()}


def _bin(steps: int) -> int:
    half = BINS // 2
    return round(steps * half / 127) + half
