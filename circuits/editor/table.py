"""A text form as a table: sections of rows, rows of cells, all of it text as typed."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from circuits.editor.columns import COLUMNS

MOST_ROWS = 2_000
LONGEST_CELL = 2_000
LONGEST_NOTES = 100_000
#: Stands in the text where a cell in the middle of a line is still empty.
EMPTY = "?"
NOTES = "notes"


def _storable(text: str) -> str:
    """Return a text without the one character that no database column takes."""
    return text.replace("\x00", "")


Typing = Annotated[str, AfterValidator(_storable)]
Cell = Annotated[Typing, StringConstraints(max_length=LONGEST_CELL)]
Word = Annotated[Typing, StringConstraints(max_length=60)]


class Piece(BaseModel):
    """What a table is made of; unknown fields are refused, so that nothing is lost unseen."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Row(Piece):
    """One line: its cells, or the whole line where it has none (remarks, unreadable lines).

    `line` is the line as it stood in the text; as long as the cells say the same, it goes back
    there unchanged. `states` are the cells of a part below the phases, each with its phase.
    """

    cells: dict[Word, Cell] = {}
    states: tuple[tuple[Cell, Cell], ...] = ()
    line: Cell = ""
    whole: bool = False
    #: Empty lines above it.
    gap: Annotated[int, Field(ge=0, le=50)] = 0

    @property
    def is_empty(self) -> bool:
        if self.whole:
            return not self.line.strip()
        return not any(text.strip() for text in (*self.cells.values(), *self.phase_texts))

    @property
    def phase_texts(self) -> tuple[str, ...]:
        return tuple(text for _, text in self.states)


class Section(Piece):
    """One section; the notes have text instead of rows."""

    name: Word
    rows: Annotated[tuple[Row, ...], Field(max_length=MOST_ROWS)] = ()
    text: Annotated[Typing, StringConstraints(max_length=LONGEST_NOTES)] = ""

    @property
    def has_columns(self) -> bool:
        return self.name in COLUMNS


class Table(Piece):
    """A whole circuit as a table, in the order of its text."""

    sections: Annotated[tuple[Section, ...], Field(max_length=60)] = ()

    @property
    def phases(self) -> tuple[str, ...]:
        """The short names of the phases, in their order."""
        found = (row.cells.get("key", "") for row in self._rows("phases"))
        return tuple(dict.fromkeys(key for key in found if key))

    def _rows(self, name: str) -> tuple[Row, ...]:
        return tuple(
            row for section in self.sections if section.name == name for row in section.rows
        )
