"""Documents in and out: read a body as one, and show a value of the domain as one."""

import json
from typing import Any, TypeVar

import pydantic
from pydantic import BaseModel, ConfigDict

from api.errors import BadFields

Read = TypeVar("Read", bound=BaseModel)


def read_document(document: type[Read], body: object) -> Read:
    """Return the body as a document.

    Raises
    ------
    BadFields
        Every field that is missing, unknown or of another kind.
    """
    try:
        return document.model_validate(body)
    except pydantic.ValidationError as error:
        raise BadFields.from_pydantic(error, body) from None


class Shown(BaseModel):
    """What is shown of a value, taken from its attributes; infinities travel as text."""

    model_config = ConfigDict(from_attributes=True, frozen=True, ser_json_inf_nan="strings")

    @classmethod
    def of(cls, value: object) -> dict[str, Any]:
        """Return what is shown of the value, ready to be rendered."""
        return as_json(cls.model_validate(value))


def as_json(document: BaseModel) -> dict[str, Any]:
    """Return a document as JSON holds it, with infinities as text."""
    data: dict[str, Any] = json.loads(document.model_dump_json(by_alias=True))
    return data
