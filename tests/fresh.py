"""Seeds for circuits that nobody has looked at: new with every change of the engine or its judges.

The same code draws the same circuits, so that what fails once fails again for whoever looks into
it, on any machine. The long run draws by chance besides.
"""

import hashlib
import random
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Final

import pytest

import circuits
import tests

LEAST, MOST = 10**6, 10**9
CODE: Final = (Path(circuits.__file__).parent / "engine", Path(tests.__file__).parent / "judges")


@cache
def seed_of_this_code() -> int:
    """Return a seed that stands for the engine and the judges as they are written now."""
    digest = hashlib.sha256()
    for folder in CODE:
        for path in sorted(folder.rglob("*.py")):
            digest.update(path.read_text(encoding="utf-8").encode())
    return LEAST + int.from_bytes(digest.digest()[:8], "big") % (MOST - LEAST)


def seed_by_chance() -> int:
    return random.SystemRandom().randrange(LEAST, MOST)


DrawsSeed = Callable[[], int]

#: For a test that takes `draw_seed`.
fresh_seeds = pytest.mark.parametrize(
    "draw_seed",
    [
        pytest.param(seed_of_this_code, id="of-this-code"),
        pytest.param(seed_by_chance, id="by-chance", marks=pytest.mark.long),
    ],
)
