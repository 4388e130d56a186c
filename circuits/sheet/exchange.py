"""A sheet as JSON, for programs: the published schema, out and in."""

import json
from typing import Any

from pydantic import ValidationError

from circuits.sheet.errors import Flaw, SheetErrors
from circuits.sheet.model import Sheet
from circuits.sheet.network import proven_network
from circuits.sheet.plain_words import explain_all
from circuits.sheet.reader import LARGEST_TEXT, read_text


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema of a circuit sheet."""
    return Sheet.model_json_schema(by_alias=True)


def to_json(sheet: Sheet) -> str:
    """Return the sheet as JSON; reading it again gives the same sheet."""
    return sheet.model_dump_json(by_alias=True, exclude_defaults=False, indent=1)


def to_data(sheet: Sheet) -> dict[str, Any]:
    """Return the sheet as plain lists and dictionaries."""
    return sheet.model_dump(mode="json", by_alias=True)


def read_json(text: str) -> Sheet:
    """Return the sheet that a JSON text holds.

    Raises
    ------
    SheetErrors
        Every mistake that was found, each with the place in the JSON.
    """
    _check_size(text)
    try:
        sheet = Sheet.model_validate_json(text)
    except ValidationError as error:
        raise SheetErrors(
            Flaw(subject=subject, problem=problem, mend=mend)
            for subject, problem, mend in explain_all(error)
        ) from error
    proven_network(sheet)
    return sheet


def read_data(data: object) -> Sheet:
    """Return the sheet that parsed JSON holds; mistakes as in `read_json`."""
    return read_json(json.dumps(data))


def read_any(content: str | bytes) -> Sheet:
    """Return the sheet of a file, in the text form or as JSON.

    Raises
    ------
    SheetErrors
        The file is no text, or the sheet has mistakes.
    """
    text = content if isinstance(content, str) else _decoded(content)
    if text.lstrip("\ufeff \t\r\n").startswith("{"):
        return read_json(text.lstrip("\ufeff"))
    return read_text(text)


def _decoded(content: bytes) -> str:
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        raise SheetErrors(
            [
                Flaw(
                    subject="file",
                    problem=f"byte {error.start + 1} is no UTF-8 text.",
                    mend="Save the file as UTF-8.",
                    line=before.count(b"\n") + 1,
                    column=error.start - (before.rfind(b"\n") + 1) + 1,
                )
            ]
        ) from error


def _check_size(text: str) -> None:
    if len(text) > LARGEST_TEXT * 4:
        raise SheetErrors(
            [
                Flaw(
                    subject="text",
                    problem=f"{len(text)} characters are more than {LARGEST_TEXT * 4}.",
                    mend="This is no circuit sheet.",
                )
            ]
        )
