"""The OpenAPI description: words for each operation, and every status that it can answer with."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import OpenApiParameter, extend_schema

from api.tokens import SCHEME, TokenAuthentication

Method = TypeVar("Method", bound=Callable[..., Any])

INTRODUCTION = """
What the pages can do, a program can do here, with the same rights and the same words.

1. Sign in: `POST /api/tokens/` with name and password gives a token. Send it with every request in
   the header `Authorization: Bearer ...`.
2. Find the circuit (`/api/circuits/`), its phases and places.
3. Log a case with its readings (`POST /api/cases/`), claim a fault, read the verdict.
4. Look for its like (`/api/cases/{id}/similar/`, or `POST /api/search/`).

Digits stay as they are typed, unit and all: `6.79 V`, `85 mA`, `4k7`. Comma and point are decimal
marks; `OL` is over range; an empty text is not measured. Numbers that come out are in V and A, and
an infinite one is the text `Infinity`. Times are UTC.

An error has a `code` for programs, a `detail` for people and, where several things are wrong, an
entry for each in `errors`. What another shop does not share is a 404.

Predicted values are typical values of a drawing, no specification: the maker's procedure, local
codes and licensed practice come first.
""".strip()
TAGS = {
    "tokens": "Signing in for a program.",
    "circuits": "What a circuit is, and what its places read healthy and with a fault.",
    "cases": "What happened to a vehicle: readings, claim, repair, verdict, standing, sharing.",
    "rejudgements": "Cases judged once more because their circuit or the engine is a newer one.",
    "instruments": "Your own meters and clamps, and what each may be off by.",
    "photos": "Real parts, tagged at their places; a maker's page never leaves its shop.",
    "reading-photos": "What a display, a trace or the spot looked like; they stay in the shop.",
    "search": "Past cases that are like a job.",
    "exercises": "Shared cases that a class works through with part and outcome hidden.",
    "attempts": "A learner's own go at an exercise.",
    "shops": "Your shops, their people, and cases that come in as documents.",
    "logs": "Older logs that came into your shops whole, and what was refused of them.",
    "vehicles": "The vehicles of your shops; plate and VIN stay there.",
    "start": "Where things are.",
}
_REFUSALS = "x-refusals"  # carries an operation's own refusals to the hook, which takes it out
_ERROR_REFERENCE = {"$ref": "#/components/schemas/Error"}
_ERROR_SCHEMA = {
    "type": "object",
    "description": "What went wrong, for a program and for a person.",
    "required": ["code", "detail"],
    "properties": {
        "code": {"type": "string", "description": "Stays the same from version to version."},
        "detail": {"type": "string", "description": "What is wrong, where, and how to mend it."},
        "errors": {
            "type": "array",
            "description": "Each thing that is wrong, where there can be several.",
            "items": {
                "type": "object",
                "required": ["detail"],
                "properties": {
                    "detail": {"type": "string"},
                    "field": {"type": "string", "examples": ["readings.0.place"]},
                    "line": {"type": "integer", "minimum": 1},
                    "column": {"type": ["integer", "string"]},
                    "subject": {"type": "string", "description": "The part or place meant."},
                    "mend": {"type": "string", "description": "How to mend it."},
                },
            },
        },
        "conflict": {
            "type": "object",
            "description": "Where somebody else published in the meantime: what they changed, what"
            " you did, what clashes, and the text that holds both (yours where they clash).",
            "required": ["base", "newest", "theirs", "mine", "clashes", "merged"],
            "properties": {
                "base": {"type": "integer"},
                "newest": {"type": "integer"},
                "theirs": {"type": "array", "items": {"type": "string"}},
                "mine": {"type": "array", "items": {"type": "string"}},
                "clashes": {
                    "type": "array",
                    "items": {
                        "type": "object",
                        "required": ["section", "name", "base", "theirs", "mine"],
                        "properties": {
                            name: {"type": "string"}
                            for name in ("section", "name", "base", "theirs", "mine")
                        },
                    },
                },
                "merged": {"type": "string"},
            },
        },
    },
}
_WORDS_OF_REFUSAL = {
    400: "Something in the request cannot be used; the answer says what and how to mend it.",
    401: "Nobody is signed in, or the token is unknown, expired or revoked.",
    403: "You may see this, but not do this with it.",
    404: "There is no such thing, or you may not see it.",
    406: "The answer does not exist in the form that was asked for.",
    409: "Not now: something else has to come first; the answer says what.",
    413: "The body is too long.",
    415: "The body is of a type that is not taken here.",
    429: "Too many wrong passwords; wait before the next one.",
}


def operation(
    summary: str,
    *,
    answer: Any,
    takes: Any = None,
    status: int = 200,
    refusals: Sequence[int] = (),
    parameters: Sequence[OpenApiParameter] = (),
    words: str = "",
    **more: Any,
) -> Callable[[Method], Method]:
    """Describe one method of a view.

    `refusals` are the statuses besides those that follow from the operation's form: 400 where
    something is sent, 401 where one has to be signed in, 404 where the address names something.
    An answer in several forms is given by its media types.
    """
    answers = answer if isinstance(answer, dict) else {None: answer}
    return extend_schema(
        summary=summary,
        description=words or None,
        request=takes,
        responses={(status, form) if form else status: one for form, one in answers.items()},
        parameters=list(parameters),
        extensions={_REFUSALS: list(refusals)},
        **more,
    )


def introduce(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """Say how to begin, and what each group of addresses is for; a hook of the generator."""
    result["info"]["description"] = INTRODUCTION
    result["tags"] = [{"name": name, "description": words} for name, words in TAGS.items()]
    return result


def tell_refusals(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """Add to each operation the errors it can answer with; a hook of the generator."""
    components = result.setdefault("components", {})
    components.setdefault("schemas", {})["Error"] = _ERROR_SCHEMA
    components["responses"] = {
        f"Refused{status}": {
            "description": words,
            "content": {"application/json": {"schema": _ERROR_REFERENCE}},
        }
        for status, words in _WORDS_OF_REFUSAL.items()
    }
    for path, methods in result["paths"].items():
        for method, described in methods.items():
            for status in _refusals_of(path, method, described):
                reference = {"$ref": f"#/components/responses/Refused{status}"}
                described["responses"].setdefault(str(status), reference)
    return result


def _refusals_of(path: str, method: str, described: dict[str, Any]) -> set[int]:
    found = {406, *described.pop(_REFUSALS, ())}
    parameters = described.get("parameters", [])
    queried = {entry["name"] for entry in parameters if entry["in"] == "query"}
    security = described.get("security", [])
    if security:
        found.add(401)  # where nobody need sign in, still for a token that is worthless
    if "{" in path or "page" in queried:
        found.add(404)
    if "requestBody" in described:
        found |= {400, 413, 415}
    if queried:
        found.add(400)
    if method != "get" and security:
        found.add(403)  # also a session without its anti-forgery token
    return found


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # half typed
    """How the description names our tokens."""

    target_class = TokenAuthentication
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Return the scheme."""
        return {"type": "http", "scheme": SCHEME.lower(), "description": "From POST /api/tokens/."}
