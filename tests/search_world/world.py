"""Cases drawn from the tables: what was wrong, what was read, which codes and which words.

How often a circuit and a fault occur falls off as in a list of common things (Zipf). Of what
ngspice says a technician reads three to fourteen places, favourites first, each with an error of
one combined uncertainty, one in twenty-five plainly wrong. One case in twenty-five claims the wrong
fault. Codes are shared by faults of one circuit, a quarter of the cases has none, some have a
stray one. Complaints are words of our own making, so that no list of synonyms helps or hurts: some
belong to a fault, more to its circuit, a few to nothing, and one in eight is misspelt.

All of these shares are chosen by us, no source; results are to be read beside the oracle's, which
knows them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cases.search.evidence import MOST_STEPS, STEPS_PER_SIZE
from tests.search_world.tables import KEPT, NO_READING

IntArray = NDArray[np.int64]

FEWEST_READ, MOST_READ = 3, 14
MOST_ASKED = 10
WRONG_READING = 0.04
WRONG_CLAIM = 0.04
WITHOUT_CODE = 0.25
STRAY_CODE = 0.15
MISSPELT = 0.12
ASKED_WITHOUT_READING = 0.08
ASKED_WITHOUT_WORDS = 0.08
FAULT_WORDS, CIRCUIT_WORDS, ANY_WORDS = 4, 12, 60
WORDS = 700
#: What a word is of: the fault, the circuit, nothing.
WORD_SHARES = (0.45, 0.4, 0.15)
SHOPS = 200
SHARED = 0.7
DAYS = 3650


@dataclass(frozen=True, slots=True, eq=False)
class Circuit:
    """One circuit of the tables; sizes (faults, cars, slots) in sixteenths."""

    key: str
    system: str
    faults: tuple[str, ...]
    slots: tuple[str, ...]
    sizes: NDArray[np.int8]


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Cases or queries of one circuit: n of them, lists as they are kept.

    `truth` is what was wrong, `claim` what the case says; `read` (n, slots) are sixteenths, with
    `NO_READING` for what was not read; `codes` and `words` are lists of texts.
    """

    circuit: int
    truth: IntArray
    claim: IntArray
    read: NDArray[np.int8]
    codes: list[tuple[str, ...]]
    words: list[tuple[str, ...]]

    def only(self, keep: NDArray[np.int64]) -> "Drawn":
        """Return some of them, by their places."""
        return Drawn(
            circuit=self.circuit,
            truth=self.truth[keep],
            claim=self.claim[keep],
            read=self.read[keep],
            codes=[self.codes[place] for place in keep.tolist()],
            words=[self.words[place] for place in keep.tolist()],
        )


class World:
    """The circuits and how their faults show; everything follows from the seed."""

    def __init__(self, seed: int) -> None:
        self.random = np.random.default_rng(seed)
        shape = np.random.default_rng(17)  # the world itself is the same for every seed
        self.circuits = list(_circuits())
        self.circuit_shares = _falling(len(self.circuits), shape)
        self.fault_shares = [_falling(len(each.faults), shape) for each in self.circuits]
        self.favour = [_falling(len(each.slots), shape) for each in self.circuits]
        words = _made_words(WORDS, shape)
        self.any_words = words[:ANY_WORDS]
        self.circuit_words = [shape.choice(words, CIRCUIT_WORDS, False) for _ in self.circuits]
        self.fault_words = [
            [shape.choice(words, FAULT_WORDS, False) for _ in each.faults] for each in self.circuits
        ]
        # Three faults that lie beside each other set the same code; a few have one of their own.
        self.fault_codes = [
            [f"P{1000 + 40 * number + fault // 3:04d}" for fault in range(len(each.faults))]
            for number, each in enumerate(self.circuits)
        ]

    def cases(self, count: int) -> list[Drawn]:
        """Return so many cases, circuit by circuit."""
        counts = self.random.multinomial(count, self.circuit_shares)
        return [self._drawn(number, many) for number, many in enumerate(counts.tolist())]

    def queries(self, count: int, *, uniform: bool) -> list[Drawn]:
        """Return so many queries, by how common the faults are or all alike."""
        if uniform:
            sizes = np.array([len(each.faults) for each in self.circuits])
            counts = self.random.multinomial(count, sizes / sizes.sum())
        else:
            counts = self.random.multinomial(count, self.circuit_shares)
        return [
            self._drawn(number, many, asked=True, uniform=uniform)
            for number, many in enumerate(counts.tolist())
            if many
        ]

    def _drawn(
        self, number: int, count: int, *, asked: bool = False, uniform: bool = False
    ) -> Drawn:
        circuit, random = self.circuits[number], self.random
        faults = len(circuit.faults)
        shares = None if uniform else self.fault_shares[number]
        truth = random.choice(faults, count, p=shares)
        claim = np.where(
            random.uniform(size=count) < WRONG_CLAIM, random.integers(0, faults, count), truth
        )
        return Drawn(
            circuit=number,
            truth=truth,
            claim=claim,
            read=self._read(number, truth, asked=asked),
            codes=self.codes_of(number, truth),
            words=self.words_of(number, truth, asked=asked),
        )

    def _read(self, number: int, truth: IntArray, *, asked: bool) -> NDArray[np.int8]:
        circuit, random = self.circuits[number], self.random
        count, slots = len(truth), len(circuit.slots)
        cars = random.integers(0, circuit.sizes.shape[1], count)
        shown = circuit.sizes[truth, cars]
        fewest, most = (1, MOST_ASKED) if asked else (FEWEST_READ, MOST_READ)
        many = random.integers(fewest, most + 1, count)
        if asked:
            many[random.uniform(size=count) < ASKED_WITHOUT_READING] = 0
        # The favourites first: exponential races give a draw without putting back.
        race = random.exponential(size=(count, slots)) / self.favour[number]
        race[shown == NO_READING] = np.inf
        rank = np.argsort(np.argsort(race, axis=1), axis=1)
        taken = (rank < many[:, None]) & np.isfinite(race)
        size = shown.astype(np.float64) / STEPS_PER_SIZE
        distance = np.copysign(2 ** np.abs(size) - 1, size) + random.normal(size=size.shape)
        size = np.copysign(np.log2(1 + np.abs(distance)), distance)
        wrong = random.uniform(size=size.shape) < WRONG_READING
        size = np.where(wrong, random.uniform(-8, 8, size.shape), size)
        steps = np.clip(np.rint(size * STEPS_PER_SIZE), -MOST_STEPS, MOST_STEPS).astype(np.int8)
        return np.where(taken, steps, np.int8(NO_READING))

    def codes_of(self, number: int, truth: IntArray) -> list[tuple[str, ...]]:
        """Return the codes that cars of one circuit set, by what is wrong with them."""
        own = self.fault_codes[number]
        without = self.random.uniform(size=len(truth)) < WITHOUT_CODE
        stray = self.random.uniform(size=len(truth)) < STRAY_CODE
        strays = self.random.integers(0, 400, len(truth))
        return [
            tuple(
                {
                    *([] if lacks else [own[fault]]),
                    *([f"U{1000 + other:04d}"] if strays_too else []),
                }
            )
            for fault, lacks, strays_too, other in zip(
                truth.tolist(), without.tolist(), stray.tolist(), strays.tolist(), strict=True
            )
        ]

    def words_of(self, number: int, truth: IntArray, *, asked: bool) -> list[tuple[str, ...]]:
        """Return what is said of cars of one circuit, by what is wrong with them."""
        random, count = self.random, len(truth)
        many = random.integers(3, 10, count)
        if asked:
            many[random.uniform(size=count) < ASKED_WITHOUT_WORDS] = 0
        of = random.choice(3, (count, 10), p=WORD_SHARES)
        which = random.integers(0, 1 << 30, (count, 10))
        slip = random.uniform(size=(count, 10)) < MISSPELT
        pools = (self.circuit_words[number], self.any_words)
        found = []
        for case, fault in enumerate(truth.tolist()):
            words: dict[str, None] = {}
            for place in range(int(many[case])):
                kind = of[case, place]
                pool = (self.fault_words[number][fault], *pools)[kind]
                word = str(pool[which[case, place] % len(pool)])
                words[_slip(word, int(which[case, place])) if slip[case, place] else word] = None
            found.append(tuple(words))
        return found


def _circuits() -> list[Circuit]:
    with np.load(KEPT) as kept:
        keys = sorted({name.partition("/")[0] for name in kept.files})
        return [_circuit(kept, key) for key in keys]


def _circuit(kept: Mapping[str, NDArray[Any]], key: str) -> Circuit:
    # Two phases that differ in nothing have one slot, which is read once.
    slots, first = np.unique(kept[f"{key}/slots"], return_index=True)
    return Circuit(
        key=key,
        system=str(kept[f"{key}/system"]),
        faults=tuple(kept[f"{key}/faults"].tolist()),
        slots=tuple(slots.tolist()),
        sizes=kept[f"{key}/sizes"][:, :, first],
    )


def _falling(count: int, random: np.random.Generator) -> NDArray[np.float64]:
    shares = 1 / np.arange(1, count + 1)
    random.shuffle(shares)
    return np.asarray(shares / shares.sum())


def _made_words(count: int, random: np.random.Generator) -> list[str]:
    heads, vowels, tails = "bdfgklmnprstvz", "aeiou", ["", "n", "r", "sk", "lt", "m"]
    words: dict[str, None] = {}
    while len(words) < count:
        syllables = int(random.integers(2, 4))
        word = "".join(
            random.choice(list(heads)) + random.choice(list(vowels)) for _ in range(syllables)
        )
        words[word + str(random.choice(tails))] = None
    return list(words)


def _slip(word: str, seed: int) -> str:
    """Return a word with two letters changed round or one lost, never its first."""
    place = 1 + seed % max(1, len(word) - 2)
    if seed % 2:
        return word[:place] + word[place + 1 :]
    return word[:place] + word[place + 1 : place + 2] + word[place] + word[place + 2 :]
