"""Read a body as one of the documents in which cases, readings and searches travel."""

from typing import TypeVar

import pydantic

from api.errors import BadFields

Read = TypeVar("Read", bound=pydantic.BaseModel)


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
        raise BadFields.from_pydantic(error) from None
