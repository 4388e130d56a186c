"""How what goes wrong is told over REST: one shape for every error.

    {"code": "place_not_in_circuit", "detail": "This circuit has no place 'TP9'; ...",
     "errors": [{"field": "readings.0.place", "detail": "..."}]}

`code` is for programs and stays; `detail` is for people and may be worded better one day. `errors`
is there where several things can be wrong at once, or where one of them has a line or a field.
What we did not foresee is a 500 and a line in the log.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import pydantic
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponseBase, JsonResponse
from django.urls import resolve
from django.views import defaults
from django.views.decorators.csrf import csrf_exempt
from pydantic_core import ErrorDetails
from rest_framework import exceptions, status
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import set_rollback

from cases.errors import BadFact, BadInput, BadRows, Forbidden, OutOfTurn
from circuits.engine import ContradictoryNetwork, EngineError
from circuits.errors import (
    BadReference,
    BadSeverity,
    BadWalk,
    CircuitError,
    NoOpenRule,
    NoteMissing,
    NotYourWalk,
    ReasonMissing,
    RevisionMovedOn,
    TooFar,
    UnconfirmedVehicle,
    UnknownCircuit,
    UnknownFinding,
    UnknownPart,
    UnknownPin,
    UnknownPlace,
    UnknownReference,
    UnknownRevision,
    UnknownWalk,
)
from circuits.part_sheets.allowed import NoTestSheet, UnknownSubject
from circuits.sheet import SheetErrors, write_text
from circuits.units import UnitError

API_ROOT = "/api/"
#: The status of every error that the domain raises; a subclass has that of its nearest parent.
STATUS_OF: Mapping[type[Exception], int] = {
    Forbidden: status.HTTP_403_FORBIDDEN,
    BadInput: status.HTTP_400_BAD_REQUEST,
    OutOfTurn: status.HTTP_409_CONFLICT,
    CircuitError: status.HTTP_409_CONFLICT,
    NoteMissing: status.HTTP_400_BAD_REQUEST,
    ReasonMissing: status.HTTP_400_BAD_REQUEST,
    UnknownFinding: status.HTTP_404_NOT_FOUND,
    BadReference: status.HTTP_400_BAD_REQUEST,
    UnknownReference: status.HTTP_404_NOT_FOUND,
    NoOpenRule: status.HTTP_404_NOT_FOUND,
    UnknownPlace: status.HTTP_400_BAD_REQUEST,
    BadSeverity: status.HTTP_400_BAD_REQUEST,
    UnconfirmedVehicle: status.HTTP_400_BAD_REQUEST,
    UnknownRevision: status.HTTP_400_BAD_REQUEST,
    UnknownPart: status.HTTP_400_BAD_REQUEST,
    UnknownPin: status.HTTP_400_BAD_REQUEST,
    TooFar: status.HTTP_400_BAD_REQUEST,
    UnknownCircuit: status.HTTP_404_NOT_FOUND,
    BadWalk: status.HTTP_400_BAD_REQUEST,
    NotYourWalk: status.HTTP_403_FORBIDDEN,
    UnknownWalk: status.HTTP_404_NOT_FOUND,
    NoTestSheet: status.HTTP_409_CONFLICT,
    UnknownSubject: status.HTTP_404_NOT_FOUND,
    SheetErrors: status.HTTP_400_BAD_REQUEST,
    EngineError: status.HTTP_400_BAD_REQUEST,
    UnitError: status.HTTP_400_BAD_REQUEST,
}
_WORDS_FOR = {
    "missing": "This is needed and was not sent.",
    "extra_forbidden": "There is no such field here; remove it, or look at its spelling.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong: where it is, what it is, and how to mend it."""

    detail: str
    field: str = ""
    line: int = 0
    column: int | str = ""
    subject: str = ""
    mend: str = ""

    def as_json(self) -> dict[str, object]:
        """Return what there is to say."""
        return {name: value for name, value in asdict(self).items() if value}

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        column = f"column {self.column}" if isinstance(self.column, int) else self.column
        where = ", ".join(word for word in (line, column, self.field, self.subject) if word)
        return ": ".join(word for word in (where, self.detail) if word)


class BadFields(exceptions.APIException):
    """A body or query whose fields cannot be taken; `problems` names each."""

    status_code = status.HTTP_400_BAD_REQUEST
    default_code = "bad_fields"

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(_summary(self.problems))

    @classmethod
    def from_pydantic(cls, error: pydantic.ValidationError, body: object) -> "BadFields":
        """Return the same problems in our words, one for each field of the body."""
        problems: dict[str, Problem] = {}
        for details in error.errors(include_url=False):
            problem = _problem_of_field(details, body)
            # A value that may be of several kinds brings one problem for each; the first is told.
            problems.setdefault(problem.field, problem)
        return cls(list(problems.values()))


def exception_handler(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """Return the answer to an error, or None where it is a bug of ours."""
    answer = _answer_to(error)
    if answer is None:
        return None
    set_rollback()
    request = context.get("request")
    if request is not None:
        # An error is told in JSON, whatever form of the thing itself was asked for.
        request.accepted_renderer = JSONRenderer()
        request.accepted_media_type = JSONRenderer.media_type
    return answer


def server_error(request: HttpRequest) -> HttpResponseBase:
    """Answer where we failed: in JSON under /api/, with a page elsewhere."""
    if not request.path.startswith(API_ROOT):
        return defaults.server_error(request)
    return JsonResponse(
        _body("server_error", "Copperlog failed at this; the log of the server says why."),
        status=status.HTTP_500_INTERNAL_SERVER_ERROR,
    )


@csrf_exempt
def no_such_address(request: HttpRequest) -> JsonResponse:
    """Answer under /api/ where an address leads nowhere."""
    hint = ""
    if not request.path.endswith("/") and resolve(f"{request.path}/").func is not no_such_address:
        hint = f" Addresses end with a slash: {request.path}/"
    return JsonResponse(
        _body("not_found", f"There is no such address.{hint}"), status=status.HTTP_404_NOT_FOUND
    )


def _answer_to(error: Exception) -> Response | None:
    if isinstance(error, Http404):
        error = exceptions.NotFound("There is no such thing, or you may not see it.")
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if isinstance(error, exceptions.ValidationError):
        error = BadFields(list(_problems_of_fields(error.detail)))
    if isinstance(error, exceptions.APIException):
        code = getattr(error.detail, "code", None) or error.default_code
        problems = error.problems if isinstance(error, BadFields) else ()
        return Response(
            _body(str(code), str(error.detail), problems),
            status=error.status_code,
            headers=_headers(error),
        )
    for known in type(error).__mro__:
        if known in STATUS_OF:
            problems = _problems_of(error)
            detail = _summary(problems) if problems else str(error)
            body = _body(_code_of(error), detail, problems)
            if isinstance(error, RevisionMovedOn):
                body["conflict"] = _conflict(error)
            return Response(body, status=STATUS_OF[known])
    return None


def _body(code: str, detail: str, problems: Sequence[Problem] = ()) -> dict[str, object]:
    body: dict[str, object] = {"code": code, "detail": detail}
    if problems:
        body["errors"] = [problem.as_json() for problem in problems]
    return body


def _conflict(error: RevisionMovedOn) -> dict[str, object]:
    """Return what the other side changed, what this one did, and both on one sheet as text."""
    return {
        "base": error.base,
        "newest": error.newest,
        "theirs": [difference.words for difference in error.theirs],
        "mine": [difference.words for difference in error.mine],
        "clashes": [asdict(clash) for clash in error.merged.clashes],
        "merged": write_text(error.merged.sheet),
    }


def _headers(error: exceptions.APIException) -> dict[str, str]:
    headers = {}
    challenge = getattr(error, "auth_header", None)
    if challenge:
        headers["WWW-Authenticate"] = str(challenge)
    wait = getattr(error, "wait", None)
    if wait:
        headers["Retry-After"] = f"{wait:.0f}"
    return headers


def _code_of(error: Exception) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", "_", type(error).__name__).lower()


def _summary(problems: Sequence[Problem]) -> str:
    if len(problems) == 1:
        return str(problems[0])
    return f"{len(problems)} things have to be mended; the first is {problems[0]}"


def _problems_of(error: Exception) -> tuple[Problem, ...]:
    match error:
        case SheetErrors():
            return tuple(
                Problem(
                    detail=flaw.problem,
                    mend=flaw.mend,
                    subject=flaw.subject,
                    line=flaw.line,
                    column=flaw.column,
                )
                for flaw in error.flaws
            )
        case BadRows():
            return tuple(
                Problem(detail=row.problem, mend=row.mend, line=row.line, column=row.column)
                for row in error.problems
            )
        case BadFact() | UnconfirmedVehicle():
            return (Problem(detail=error.problem, field=error.field),)
        case BadWalk():
            return tuple(
                Problem(detail=words, field=f"steps.{number - 1}.{field}" if number else field)
                for number, field, words in error.problems
            )
        case ContradictoryNetwork():
            return tuple(Problem(detail=reason) for reason in error.reasons)
    return ()


def _problem_of_field(error: ErrorDetails, body: object) -> Problem:
    said = error["msg"].removeprefix("Value error, ")
    return Problem(
        detail=_WORDS_FOR.get(error["type"], f"{said}."),
        field=".".join(_path_in(body, error)),
    )


def _path_in(body: Any, error: ErrorDetails) -> Iterator[str]:
    """Yield the steps from the body to the field, without the kinds that were tried on the way."""
    for step in error["loc"]:
        try:
            body = body[step]
        except (KeyError, IndexError, TypeError):
            if error["type"] != "missing":
                continue
        yield str(step)


def _problems_of_fields(detail: object, path: str = "") -> Iterator[Problem]:
    """Yield the leaves of the nested lists and objects in which fields' errors come."""
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            here = "" if name == "non_field_errors" else str(name)
            yield from _problems_of_fields(inner, ".".join(word for word in (path, here) if word))
    elif isinstance(detail, list):
        for number, inner in enumerate(detail):
            nested = isinstance(inner, Mapping | list)
            yield from _problems_of_fields(inner, f"{path}.{number}" if nested else path)
    else:
        yield Problem(detail=str(detail), field=path)
