"""What the documents of circuits share: frozen, infinite ohms as text, which circuit it is of."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, WithJsonSchema

#: A number that may have no end, such as the added ohms of an open: JSON has no word for that, so
#: it travels as text.
Unbounded = Annotated[
    float,
    WithJsonSchema(
        {"anyOf": [{"type": "number"}, {"type": "string", "enum": ["Infinity", "-Infinity"]}]}
    ),
]


class Document(BaseModel):
    """What all documents here share: frozen, infinite ohms as text."""

    model_config = ConfigDict(frozen=True, ser_json_inf_nan="strings")


class NamedDocument(Document):
    """A document of its own: it says which form it has under `schema`."""

    model_config = ConfigDict(validate_by_name=True, serialize_by_alias=True)


class CircuitName(Document):
    """Which circuit it is."""

    key: str
    title: str
