"""Arrays that grow at their end, for what is worked out once and looked up ever after."""

from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

FIRST_ROOM = 32


class GrowingArray:
    """Rows that are added in batches; adding costs no more than the rows themselves, on average.

    Attributes
    ----------
    rows
        All that have been added; another array after each time.
    """

    def __init__(self, *row_shape: int, dtype: DTypeLike = np.float64, fill: Any = 0) -> None:
        self._fill = fill
        self._room = np.full((FIRST_ROOM, *row_shape), fill, dtype=dtype)
        self._count = 0
        self.rows = self._room[:0]

    def __len__(self) -> int:
        return self._count

    def add(self, rows: NDArray[Any]) -> None:
        needed = self._count + len(rows)
        if needed > len(self._room):
            room = np.full((2 * needed, *self._room.shape[1:]), self._fill, dtype=self._room.dtype)
            room[: self._count] = self._room[: self._count]
            self._room = room
        self._room[self._count : needed] = rows
        self._count = needed
        self.rows = self._room[:needed]
