"""What the browser sends while somebody writes, and what it is answered."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from circuits.editor.columns import COLUMNS, VEHICLE_HINTS, Column
from circuits.editor.judging import Finding, Judgement, judge_table, judge_text
from circuits.editor.pins import COIL_VALUES, CONTACT_VALUES, RELAYS, ROLES
from circuits.editor.table import Table, Typing
from circuits.editor.terminals import TERMINALS
from circuits.sheet.entries import VEHICLE_WORDS
from circuits.sheet.kinds import KINDS
from circuits.sheet.model import OTHERWISE, PartState
from circuits.sheet.reader import LARGEST_TEXT

LONGEST_NOTE = 500


class Typed(BaseModel):
    """What was typed: a table or a text, begun from a version of the draft."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    version: int
    table: Table | None = None
    text: Annotated[Typing, StringConstraints(max_length=LARGEST_TEXT)] = ""
    note: Annotated[Typing, StringConstraints(max_length=LONGEST_NOTE)] = ""
    #: The form that the browser wants to show next, if it is not the one it sent.
    want: Literal["", "text", "table"] = ""

    def judged(self) -> Judgement:
        return judge_table(self.table) if self.table is not None else judge_text(self.text)

    @property
    def table_data(self) -> dict[str, Any] | None:
        return self.table.model_dump(mode="json") if self.table is not None else None


class Shown(BaseModel):
    """A finding as the browser shows it; `section` and `row` count the table's own from 0."""

    section: int | None = Field(default=None)
    row: int | None = None
    cell: str = ""
    line: int = 0
    column: int = 0
    subject: str = ""
    problem: str
    mend: str


def shown(judgement: Judgement) -> list[dict[str, Any]]:
    """Return the findings for the browser."""
    return [_shown(finding).model_dump() for finding in judgement.findings]


def _shown(finding: Finding) -> Shown:
    flaw, spot = finding.flaw, finding.spot
    return Shown(
        section=spot.section if spot else None,
        row=spot.row if spot else None,
        cell=spot.cell if spot else "",
        line=flaw.line,
        column=flaw.column,
        subject=flaw.subject,
        problem=flaw.problem,
        mend=flaw.mend,
    )


def settings_of_the_table() -> dict[str, Any]:
    """Return what the browser must know of the form: columns, kinds, terminals, devices."""
    return {
        "columns": {
            name: [_column(column) for column in columns] for name, columns in COLUMNS.items()
        },
        "vehicle": {
            **VEHICLE_HINTS,
            **{word: "" for word in VEHICLE_WORDS if word not in VEHICLE_HINTS},
        },
        "kinds": {
            kind.word: {
                "example": kind.example,
                "others": ", ".join(field.example for field in kind.fields if not field.needed),
                "states": [state.value for state in kind.states],
                "switches": any(state is not PartState.ABSENT for state in kind.states),
            }
            for kind in KINDS.values()
        },
        "otherwise": OTHERWISE,
        "terminals": dict(TERMINALS),
        "relays": {name: list(pins) for name, pins in RELAYS.items()},
        "roles": {role: {"words": words, "value": value} for role, (words, value) in ROLES.items()},
        "coil": COIL_VALUES,
        "contact": CONTACT_VALUES,
    }


def _column(column: Column) -> dict[str, Any]:
    return {
        "key": column.key,
        "label": column.label,
        "hint": column.hint,
        "needed": column.needed,
        "offers": column.offers,
        "choices": [str(choice) for choice in column.choices],
        "broad": column.broad,
    }
