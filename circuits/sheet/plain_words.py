"""What a model says of a wrong value, in words that help."""

from collections.abc import Iterator
from typing import TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from circuits.sheet.kinds import nearest
from circuits.sheet.lines import Refused

ModelT = TypeVar("ModelT", bound=BaseModel)

_NAMES = "Use letters, digits and . _ / + -, beginning with a letter or a digit."
_KEYS = "Use small letters, digits, - and _, such as 'fuel-pump'."


def built(model: type[ModelT], /, **values: object) -> ModelT:
    """Return a model of these values.

    Raises
    ------
    Refused
        The first value that it does not take.
    """
    try:
        return model(**values)
    except ValidationError as error:
        problem, mend, at = explain(error)
        raise Refused(problem, mend, at) from error


def explain(error: ValidationError) -> tuple[str, str, str]:
    """Return what is wrong with the first value, how to mend it, and the value."""
    return _explain(error.errors(include_url=False)[0])


def explain_all(error: ValidationError) -> Iterator[tuple[str, str, str]]:
    """Yield, for every wrong value, its path, what is wrong and how to mend it."""
    for detail in error.errors(include_url=False):
        problem, mend, _ = _explain(detail)
        path = ".".join(str(step) for step in detail["loc"])
        yield path or "JSON", problem, mend


def _explain(detail: ErrorDetails) -> tuple[str, str, str]:
    value = detail["input"] if isinstance(detail["input"], str) else ""
    words = next((str(s).replace("_", " ") for s in reversed(detail["loc"]) if str(s)), "this")
    context = detail.get("ctx", {})
    match detail["type"]:
        case "string_pattern_mismatch":
            small = str(context.get("pattern", "")).startswith("^[a-z0-9]")
            return f"'{value}' cannot be a name here.", _KEYS if small else _NAMES, value
        case "string_too_long" | "too_long":
            return f"{words} is too long.", f"Keep to {context['max_length']} characters.", value
        case "string_too_short" | "too_short" | "missing":
            return f"{words} is not given.", "Write it in.", value
        case "enum" | "literal_error":
            known = str(context["expected"]).replace("'", "").replace(" or ", ", ")
            given = str(detail["input"])
            mend = nearest(given, known.split(", ")) or f"Known are: {known}."
            return f"'{given}' is not known here.", mend, value
        case "value_error":
            message = detail["msg"].removeprefix("Value error, ")
            return f"{words} {message}.", "Write it without.", value
        case "extra_forbidden":
            return f"'{words}' is nothing that belongs here.", "Take it out.", value
        case "json_invalid":
            return f"this is no JSON ({context['error']}).", "Mend the JSON.", ""
    return f"{words}: {detail['msg'].lower()}.", "Give it as the published schema says.", value
