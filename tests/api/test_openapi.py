"""The description of the REST interface: a valid OpenAPI 3.1, complete, and true.

Validity is judged by the OpenAPI Initiative's own JSON Schema of 3.1 (which drf-spectacular ships),
truth by requests that Schemathesis draws from the description.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

import pytest
import schemathesis
from django.core.management import call_command
from django.test import Client
from django.urls import URLPattern
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema
from hypothesis import HealthCheck, settings
from rest_framework.views import APIView
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api import rest_urls
from api.errors import no_such_address
from api.tokens import issue_token
from api.views.docs import Description, Docs
from api.wsgi import application
from cases.models import Wanted
from cases.services.exercises import open_exercise, start_attempt
from cases.services.older_logs.taking_in import keep_log
from tests.cast import FEED_FAULT, FEED_READINGS, MONDAY, call_cast, logged, publish, shared

METHODS = {"get", "post", "put", "patch", "delete"}
LEFT_OUT = (Description, Docs)


@pytest.fixture(scope="module")
def description() -> dict[str, Any]:
    found: dict[str, Any] = SchemaGenerator().get_schema(public=True)
    return found


def operations(description: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            yield method, path, operation


def test_the_description_is_valid_openapi_3_1_without_a_warning(description, tmp_path) -> None:
    validate_schema(description)
    call_command("spectacular", validate=True, fail_on_warn=True, file=str(tmp_path / "api.yml"))

    assert description["openapi"] == "3.1.0"


def test_every_address_and_method_is_described(description) -> None:
    described = {(method, path) for method, path, _ in operations(description)}
    served = set()
    for pattern in rest_urls.urlpatterns:
        assert isinstance(pattern, URLPattern)
        if pattern.callback is no_such_address:
            continue
        view = pattern.callback.view_class  # type: ignore[attr-defined]
        assert issubclass(view, APIView)
        if view in LEFT_OUT:
            continue
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", f"/api/{pattern.pattern}")
        path = path.replace("{pk}", "{id}")
        served |= {(method, path) for method in METHODS if hasattr(view, method)}

    assert len(served) > 40
    assert described == served


def test_every_operation_has_words_and_tells_what_can_go_wrong(description) -> None:
    tags = {tag["name"] for tag in description["tags"]}
    for method, path, operation in operations(description):
        refusals = {status for status in operation["responses"] if status >= "400"}

        assert len(operation["summary"]) > 8, path
        assert set(operation["tags"]) <= tags, path
        if path != "/api/":
            assert "401" in refusals, (method, path)
        if "requestBody" in operation:
            assert {"400", "413", "415"} <= refusals, (method, path)
        if "{" in path:
            assert "404" in refusals, (method, path)


def test_the_description_is_served_to_anybody_and_holds_no_case(db) -> None:
    answer = Client().get("/api/schema/", {"format": "json"})

    assert answer.status_code == 200
    assert answer.json()["openapi"] == "3.1.0"


class Loaded(HTMLParser):
    """Collects what a page loads, and whether a script stands in it."""

    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.inline_scripts = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.addresses += [found[name] or "" for name in ("src", "href") if name in found]
        self.inline_scripts += tag == "script" and "src" not in found


def test_the_docs_load_everything_from_here_under_their_own_policy(db) -> None:
    answer = Client().get("/api/docs/")
    page = Loaded()
    page.feed(answer.content.decode())
    policy = answer["Content-Security-Policy"]
    script = Client().get("/api/docs/?script=")

    assert page.addresses
    assert all(address.startswith(("/static/", "/api/")) for address in page.addresses)
    assert page.inline_scripts == 0
    assert "script-src 'self';" in policy
    assert "style-src 'self' 'unsafe-inline'" in policy
    assert script["Content-Type"].startswith("application/javascript")
    assert b"/api/schema/" in script.content


def test_an_address_that_leads_nowhere_is_told_in_json(db) -> None:
    nothing = Client().post("/api/circits/", {}, content_type="application/json")
    no_slash = Client().post("/api/cases", {}, content_type="application/json")

    for answer in (nothing, no_slash):
        assert answer.status_code == 404
        assert answer.json()["code"] == "not_found"
    assert "/api/cases/" in no_slash.json()["detail"]


def test_a_failure_of_ours_is_a_500_in_json_and_a_line_in_the_log(
    technician, monkeypatch, caplog
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("api.views.search.search_cases", fail)
    technician.raise_request_exception = False
    answer = technician.post("/api/search/", {})

    assert answer.status_code == 500
    assert answer.json()["code"] == "server_error"
    assert "ZeroDivisionError" in caplog.text
    assert "Traceback" not in answer.content.decode()


# ------------------------------------------------------------------ requests that are drawn

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
#: Drawn at random from the schemas alone; the long run adds each edge that the schemas have.
FEW = schemathesis.Config.from_dict({"phases": {"coverage": {"enabled": False}}})
ALL = schemathesis.Config()


@dataclass(frozen=True)
class Stored:
    """What is there to run into, as parameters of addresses, and who asks."""

    things: dict[str, dict[str, object]]
    headers: dict[str, str]


@pytest.fixture
def stored(transactional_db: None) -> Stored:
    cast = call_cast()
    revision = publish("fuel_pump.txt", by=cast.technician)
    case = shared(
        logged(cast, revision, FEED_READINGS, claim=FEED_FAULT, by=cast.owner), by=cast.owner
    )
    exercise = open_exercise(case=case, shop=cast.shop, by=cast.owner, at=MONDAY)
    attempt = start_attempt(exercise=exercise, by=cast.owner, at=MONDAY)
    log = keep_log(
        shop=cast.shop,
        name="old.csv",
        content=b"make,complaint\nTolvane,Horn silent\n",
        wanted=Wanted.CHECK,
        by=cast.owner,
        at=MONDAY,
    )
    _, token = issue_token(by=cast.owner, name="drawn", at=timezone.now())
    things: dict[str, dict[str, object]] = {
        "cases": {
            "id": case.pk,
            "reading_pk": case.readings.earliest("pk").pk,
            "verdict_pk": case.verdicts.latest().pk,
        },
        "exercises": {"id": exercise.pk},
        "attempts": {"id": attempt.pk},
        "vehicles": {"id": case.vehicle_id},
        "logs": {"id": log.pk},
        "circuits": {"key": "fuel-pump", "number": 1},
        "shops": {"slug": "kestrel", "username": "tarn"},
    }
    return Stored(things=things, headers={"Authorization": f"Bearer {token}"})


@pytest.fixture
def few(stored: Stored) -> schemathesis.BaseSchema:
    return schemathesis.openapi.from_wsgi("/api/schema/?format=json", application, config=FEW)


@pytest.fixture
def many(stored: Stored) -> schemathesis.BaseSchema:
    return schemathesis.openapi.from_wsgi("/api/schema/?format=json", application, config=ALL)


def send(case: schemathesis.Case[Any], stored: Stored) -> None:
    """Send a drawn request to something that is there, and hold the answer to the description."""
    kind = case.operation.path.split("/")[2]
    there = stored.things.get(kind, {})
    case.path_parameters = {
        name: there.get(name, value) for name, value in (case.path_parameters or {}).items()
    }
    case.call_and_validate(checks=CHECKS, headers=stored.headers)


DRAWN = settings(
    deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck)
)


@pytest.mark.slow
@schemathesis.pytest.from_fixture("few").parametrize()
@settings(DRAWN, max_examples=3)
def test_an_answer_is_always_one_that_is_described(case, stored) -> None:
    send(case, stored)


@pytest.mark.long
@schemathesis.pytest.from_fixture("many").parametrize()
@settings(DRAWN, derandomize=False, max_examples=25)
def test_an_answer_is_always_one_that_is_described_whatever_is_sent(case, stored) -> None:
    send(case, stored)
