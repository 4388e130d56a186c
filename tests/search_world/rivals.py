"""Other ways to find past cases, for the same queries: full text, BM25 over everything, vectors.

Each sees all cases of the system, shared or not, and gives the faults of its first ten. What they
are given is what search has: words, codes, and each reading as its slot with the size in steps.
"""

import zlib
from collections.abc import Iterator, Sequence
from typing import Protocol

import bm25s
import numpy as np
from django.db import DatabaseError, connection, transaction
from numpy.typing import NDArray

from cases.search.evidence import MOST_STEPS, STEPS_PER_SIZE, fault_text
from tests.search_world.asking import LISTED, Asked
from tests.search_world.tables import NO_READING
from tests.search_world.world import Drawn, World

DIMENSIONS = 64
#: So many steps apart two readings are the same word for BM25: one doubling.
STEPS_PER_WORD = STEPS_PER_SIZE
# A word or code counts as much as a reading one doubling from healthy.
TERM_LENGTH = 1.0


class Rival(Protocol):
    """A way to find; `found` are the faults of the ten cases it likes best."""

    name: str

    def found(self, asked: Asked) -> list[str]:
        """Return the faults of the best ten, the best first."""


class FullText:
    """PostgreSQL's own: all words ORed, ranked by `ts_rank`, inside the system."""

    name = "full text of words"

    def __init__(self, world: World, drawn: Sequence[Drawn]) -> None:
        with connection.cursor() as cursor:
            cursor.execute("CREATE TEMP TABLE told (system text, fault text, words tsvector)")
            with cursor.copy("COPY told FROM STDIN") as copy:
                for system, fault, group, place in _cases(world, drawn):
                    words = " ".join(f"'{word}':1" for word in group.words[place])
                    copy.write_row((system, fault, words))
            cursor.execute("CREATE INDEX ON told USING gin (words)")
            cursor.execute("ANALYZE told")

    def found(self, asked: Asked) -> list[str]:
        if not asked.words:
            return []
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT fault FROM told, to_tsquery('simple', %s) AS sought"
                " WHERE system = %s AND words @@ sought"
                " ORDER BY ts_rank(words, sought) DESC LIMIT %s",
                [" | ".join(asked.words), asked.query.system, LISTED],
            )
            return [fault for (fault,) in cursor.fetchall()]


class Bm25:
    """BM25 over words, codes and readings alike, by a library, inside the system."""

    name = "BM25 over all evidence"

    def __init__(self, world: World, drawn: Sequence[Drawn]) -> None:
        told = [
            (system, fault, _tokens(world, group, place))
            for system, fault, group, place in _cases(world, drawn)
        ]
        self._faults = [fault for _, fault, _ in told]
        systems = np.array([system for system, _, _ in told])
        self._masks = {name: (systems == name).astype(np.float32) for name in set(systems.tolist())}
        self._index = bm25s.BM25()
        self._index.index([tokens for _, _, tokens in told], show_progress=False)

    def found(self, asked: Asked) -> list[str]:
        tokens = [*asked.words, *asked.codes]
        tokens += [
            _reading_word(slot.slot, round(slot.size * STEPS_PER_SIZE))
            for slot in asked.query.slots
        ]
        known = [token for token in tokens if token in self._index.vocab_dict]
        if not known:
            return []
        scores = self._index.get_scores(known, weight_mask=self._masks[asked.query.system])
        best = np.argsort(-scores, kind="stable")[:LISTED]
        return [self._faults[place] for place in best.tolist() if scores[place] > 0]


class Vectors:
    """Evidence hashed into 64 numbers, nearest by cosine in an HNSW index of pgvector."""

    name = "vectors in an HNSW index"

    def __init__(self, world: World, drawn: Sequence[Drawn]) -> None:
        self._hashes: dict[str, tuple[int, float]] = {}
        with connection.cursor() as cursor:
            cursor.execute("CREATE EXTENSION IF NOT EXISTS vector")
            cursor.execute(
                f"CREATE TEMP TABLE placed (system text, fault text, place vector({DIMENSIONS}))"
            )
            with cursor.copy("COPY placed FROM STDIN") as copy:
                for system, fault, group, place in _cases(world, drawn):
                    circuit = world.circuits[group.circuit]
                    read = group.read[place]
                    terms = [*group.words[place], *group.codes[place]]
                    sizes = {
                        circuit.slots[slot]: int(read[slot]) / STEPS_PER_SIZE
                        for slot in np.flatnonzero(read != NO_READING).tolist()
                    }
                    copy.write_row((system, fault, _as_text(self._vector(sizes, terms))))
            cursor.execute("SET LOCAL maintenance_work_mem = '1GB'")
            cursor.execute("CREATE INDEX ON placed USING hnsw (place vector_cosine_ops)")
            cursor.execute("ANALYZE placed")
            cursor.execute("SET LOCAL hnsw.ef_search = 200")
            cursor.execute("SET LOCAL hnsw.iterative_scan = relaxed_order")

    def found(self, asked: Asked) -> list[str]:
        sizes = {slot.slot: slot.size for slot in asked.query.slots}
        vector = self._vector(sizes, [*asked.words, *asked.codes])
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT fault FROM placed WHERE system = %s ORDER BY place <=> %s LIMIT %s",
                [asked.query.system, _as_text(vector), LISTED],
            )
            return [fault for (fault,) in cursor.fetchall()]

    def _vector(self, sizes: dict[str, float], terms: Sequence[str]) -> NDArray[np.float64]:
        vector = np.zeros(DIMENSIONS)
        for text, length in (*sizes.items(), *((term, TERM_LENGTH) for term in terms)):
            place, sign = self._hashed(text)
            vector[place] += sign * length
        # Nothing at all has no direction, and cosine asks for one.
        vector[0] += 1e-6
        return vector

    def _hashed(self, text: str) -> tuple[int, float]:
        if text not in self._hashes:
            number = zlib.crc32(text.encode())
            self._hashes[text] = (number % DIMENSIONS, 1.0 if number >> 16 & 1 else -1.0)
        return self._hashes[text]


def vectors_if_there(world: World, drawn: Sequence[Drawn]) -> Vectors | None:
    """Return the vectors; None where pgvector is not there, or may not be created by this role."""
    try:
        with transaction.atomic():
            return Vectors(world, drawn)
    except DatabaseError:
        return None


def _cases(world: World, drawn: Sequence[Drawn]) -> Iterator[tuple[str, str, Drawn, int]]:
    """Yield system and claimed fault of each case, and where it stands among the drawn."""
    for group in drawn:
        circuit = world.circuits[group.circuit]
        names = [fault_text(circuit.key, fault) for fault in circuit.faults]
        for place, claim in enumerate(group.claim.tolist()):
            yield circuit.system, names[claim], group, place


def _tokens(world: World, group: Drawn, place: int) -> list[str]:
    circuit, read = world.circuits[group.circuit], group.read[place]
    readings = [
        _reading_word(circuit.slots[slot], int(read[slot]))
        for slot in np.flatnonzero(read != NO_READING).tolist()
    ]
    return [*group.words[place], *group.codes[place], *readings]


def _reading_word(slot: str, steps: int) -> str:
    steps = max(-MOST_STEPS, min(MOST_STEPS, steps))
    return f"{slot}@{round(steps / STEPS_PER_WORD)}"


def _as_text(vector: NDArray[np.float64]) -> str:
    return "[" + ",".join(f"{each:.6g}" for each in vector.tolist()) + "]"
