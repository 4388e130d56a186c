"""A line of the text form, taken apart into what it says, its details and its remark."""

import re
from dataclasses import dataclass

_REMARK = re.compile(r"(?:^\s*#|\s#(?=\s|$))")
_BAR = re.compile(r"(?:^|\s)\|(?=\s|$)")


class Refused(ValueError):
    """A line or a value that cannot be taken; `at` is the word that is meant."""

    def __init__(self, problem: str, mend: str, at: str = "") -> None:
        self.problem = problem
        self.mend = mend
        self.at = at
        super().__init__(f"{problem} {mend}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a text."""

    number: int
    text: str
    body: str
    details: str
    remark: str

    @classmethod
    def of(cls, number: int, text: str) -> "Line":
        spaced = text.replace("\t", " ")
        remark = _REMARK.search(spaced)
        said = spaced[: remark.start()] if remark else spaced
        bar = _BAR.search(said)
        return cls(
            number=number,
            text=text,
            body=(said[: bar.start()] if bar else said).strip(),
            details=said[bar.end() :].strip() if bar else "",
            remark=spaced[remark.end() :].strip() if remark else "",
        )

    @property
    def is_remark(self) -> bool:
        return not self.body and not self.details and self.text.lstrip().startswith("#")

    @property
    def words(self) -> list[str]:
        return self.body.split()

    def after(self, words: int) -> str:
        """Return the body behind so many words, with its spaces as they are."""
        parts = self.body.split(maxsplit=words)
        return parts[words] if len(parts) > words else ""

    def column(self, word: str) -> int:
        """Return where a word stands, counted from 1, or where the line begins."""
        if word:
            alone = re.search(rf"(?<![\w.]){re.escape(word)}(?![\w.])", self.text)
            place = alone.start() if alone else self.text.find(word)
            if place >= 0:
                return place + 1
        return len(self.text) - len(self.text.lstrip()) + 1
