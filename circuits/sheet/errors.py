"""What a circuit sheet is refused for: all of it at once, each with where and how to mend it.

Flaw         one mistake in a sheet
SheetErrors  the mistakes of one sheet, in the order of the text
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Flaw:
    """One mistake: where it is, what is wrong, and how to mend it.

    `subject` is the part, place, code or section that is meant. `line` and `column` count from 1
    and are 0 where the sheet did not come from the text form; until the text is known, `entry`
    says which entry of which section is meant, `at` which of its words, and `twin` which entry
    came before it.
    """

    subject: str
    problem: str
    mend: str
    line: int = 0
    column: int = 0
    entry: tuple[str, int] | None = None
    at: str = ""
    twin: tuple[str, int] | None = None

    def __str__(self) -> str:
        where = f"line {self.line}, column {self.column}" if self.line else ""
        names = ", ".join(word for word in (where, self.subject) if word)
        return f"{names}: {self.problem} {self.mend}".strip()


class SheetErrors(ValueError):
    """A sheet that cannot be taken; `flaws` holds every mistake that was found."""

    def __init__(self, flaws: Iterable[Flaw]) -> None:
        self.flaws = tuple(flaws)
        super().__init__("\n".join(map(str, self.flaws)))
