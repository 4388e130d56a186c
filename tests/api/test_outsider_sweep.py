"""What another shop has not shared does not exist: every address and method, from the resolver.

A route that is added later is walked too; one whose parts the sweep cannot fill fails it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from api.tokens import issue_token
from cases.documents.cases import CodeFacts
from cases.documents.readings import Instrument
from cases.models import OlderLog, Wanted
from cases.services.exercises import ask_reading, open_exercise, start_attempt
from cases.services.instruments import save_instrument
from cases.services.older_logs.taking_in import bring_in_log
from cases.services.saved_searches import keep
from cases.services.sharing import take_back_share
from cases.services.words import add_word
from circuits.editor.drafts import begin_empty
from tests.api.rest import program_of
from tests.cases.photographs import photographed, photographed_reading
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    logged,
    repaired,
    shared,
)
from tests.jobs import run_jobs
from tests.redrawn import POOR_JOINTS, redrawn

METHODS = ("get", "head", "post", "put", "patch", "delete", "options")
#: What everybody who is signed in may see.
OPEN_TO_ALL = ("circuits/", "api/circuits/", "cases/echo/")
#: What lies below it and is a person's own nevertheless.
A_PERSONS_OWN = ("circuits/write/",)
#: What nobody need sign in for.
PUBLIC = {
    "sign-in/",
    "sign-out/",
    "healthz",
    "readyz",
    "api/",
    "api/schema/",
    "api/docs/",
    "api/tokens/",
}
#: Words of the case that must not turn up in any answer.
PRIVATE = ("kestrel", "Kestrel", "TEST 042", "1G4AH59H45G118341", "warbles", "B1A77", "tarn")


@dataclass(frozen=True)
class Hidden:
    """A case of another shop with all that hangs on it, none of it shared any more."""

    by_route: Mapping[str, Mapping[str, object]]

    def address(self, route: str) -> str:
        """Return the address of a route with its parts filled from the hidden case."""
        address = route
        for start, parts in self.by_route.items():
            if route.startswith(start):
                for name, value in parts.items():
                    for converter in ("int:", "slug:", "str:", ""):
                        address = address.replace(f"<{converter}{name}>", str(value))
                break
        assert "<" not in address, f"the sweep does not know what to put into {route}"
        return f"/{address}"


@pytest.fixture
def hidden(cast: Cast, fuel_pump) -> Hidden:
    case = repaired(
        logged(
            cast,
            fuel_pump,
            FEED_READINGS,
            claim=FEED_FAULT,
            complaint="The pump warbles.",
            codes=(CodeFacts(code="B1A77"),),
        ),
        SOUND_READINGS,
        by=cast.technician,
    )
    shared(case, by=cast.technician)
    exercise = open_exercise(case=case, shop=cast.college, by=cast.trainer, at=MONDAY)
    attempt = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)
    ask_reading(attempt=attempt, place="TP2", phase="prime", by=cast.learner, at=MONDAY)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    rejudged = {"pk": case.rejudgements.get().pk}
    take_back_share(case=case, by=cast.technician, at=MONDAY)
    assert case.revision is not None
    photo = {"pk": photographed(cast, case.revision.circuit).pk}
    reading_photo = {"pk": photographed_reading(cast, case.readings.earliest("pk")).pk}
    token, _ = issue_token(by=cast.technician, name="bench", at=timezone.now())
    log = {"pk": older_log(cast).pk}
    meter = {"pk": save_instrument(instrument=Instrument(name="bench"), by=cast.technician).pk}
    word = add_word(shop=cast.shop, language="en", said="tarn", kept="battery", by=cast.technician)
    search = {"pk": keep(name="tarn", asked="words=warbles", by=cast.technician, at=MONDAY).pk}
    of_case = {
        "pk": case.pk,
        "reading_pk": case.readings.earliest("pk").pk,
        "verdict_pk": case.verdicts.latest().pk,
    }
    # The first beginning that fits counts, so the longer ones stand first.
    return Hidden(
        {
            "cases/echo/": {"revision_pk": fuel_pump.pk},
            "circuits/write/": {"draft": begin_empty(by=cast.technician, at=MONDAY).key},
            "circuits/": {"key": "fuel-pump", "number": 1},
            "api/circuits/": {"key": "fuel-pump", "number": 1},
            "cases/exercises/": {"pk": exercise.pk},
            "cases/attempts/": {"pk": attempt.pk},
            "cases/rejudged/": rejudged,
            "cases/photos/": photo,
            "cases/reading-photos/": reading_photo,
            "api/reading-photos/": reading_photo,
            "cases/instruments/": meter,
            "api/instruments/": meter,
            "cases/logs/": log,
            "cases/words/": {"pk": word.pk},
            "cases/search/": search,
            "api/search/": search,
            "cases/": of_case,
            "api/cases/": of_case,
            "api/photos/": photo,
            "api/logs/": log,
            "api/exercises/": {"pk": exercise.pk},
            "api/attempts/": {"pk": attempt.pk},
            "api/rejudgements/": rejudged,
            "api/shops/": {
                "slug": cast.shop.slug,
                "username": cast.technician.username,
                "pk": word.pk,
            },
            "api/vehicles/": {"pk": case.vehicle_id},
            "api/tokens/": {"key_id": token.key_id},
        }
    )


def older_log(cast: Cast) -> OlderLog:
    """Return a log of the hidden shop, gone through, with a line that was refused."""
    content = b"case,make,complaint\n1,,The pump warbles at Kestrel Lane\n"
    log = bring_in_log(
        shop=cast.shop,
        name="kestrel.csv",
        content=content,
        wanted=Wanted.CHECK,
        by=cast.owner,
        at=MONDAY,
    )
    run_jobs()
    assert log.refused_lines.exists()
    return log


def routes(patterns: list[URLPattern | URLResolver], start: str = "") -> Iterator[str]:
    for pattern in patterns:
        route = start + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns, route)
        else:
            yield route


def own_routes() -> list[str]:
    """Return every route but those of Django's admin."""
    found = routes(get_resolver().url_patterns)
    return [route for route in found if not route.startswith("admin/")]


def test_every_address_of_a_hidden_case_is_a_404_for_an_outsider(cast, hidden) -> None:
    browser = Client()
    browser.force_login(cast.outsider)
    program = program_of(cast.outsider)
    walked = []
    for route in own_routes():
        if "<" not in route:
            continue
        if route.startswith(OPEN_TO_ALL) and not route.startswith(A_PERSONS_OWN):
            continue
        address = hidden.address(route)
        client = program if route.startswith("api/") else browser
        for method in METHODS:
            answer = getattr(client, method)(address)

            assert answer.status_code in (404, 405), (method, address, answer.status_code)
            for word in PRIVATE:
                assert word.encode() not in answer.content.replace(address.encode(), b""), address
            walked.append((method, route, answer.status_code))

    assert len({route for _, route, _ in walked}) > 40
    for route in {route for _, route, _ in walked}:
        statuses = {status for _, other, status in walked if other == route}
        assert 404 in statuses, route  # at least one method is there, and finds nothing


def test_no_list_shows_a_hidden_case_to_an_outsider(cast, hidden) -> None:
    browser = Client()
    browser.force_login(cast.outsider)
    program = program_of(cast.outsider)
    for route in own_routes():
        if "<" in route or route in PUBLIC - {"api/tokens/"}:
            continue
        client = program if route.startswith("api/") else browser
        answer = client.get(f"/{route}")

        # 400: a list that has to be told what of, such as the photos of a circuit.
        assert answer.status_code in (200, 302, 400, 404, 405), (route, answer.status_code)
        for word in PRIVATE:
            assert word.encode() not in answer.content, (route, word)


def test_without_signing_in_there_is_nothing_but_the_way_in(cast, hidden) -> None:
    stranger = Client()
    for route in own_routes():
        if route in PUBLIC:
            continue
        address = hidden.address(route)
        for method in METHODS:
            answer = getattr(stranger, method)(address)
            if route.startswith("api/"):
                assert answer.status_code in (401, 404, 405), (method, route, answer.status_code)
            else:
                refused = answer.status_code == 405
                sent_away = answer.status_code == 302 and "/sign-in/" in answer["Location"]
                assert refused or sent_away, (method, route, answer.status_code)
            for word in PRIVATE:
                assert word.encode() not in answer.content, (route, word)


def test_the_admin_is_closed_to_everybody_but_staff(cast, hidden) -> None:
    browser = Client()
    browser.force_login(cast.owner)
    walked = 0
    for route in routes(get_resolver().url_patterns):
        if not route.startswith("admin/") or route.startswith("admin/log"):
            continue
        address = "/" + route
        for part in ("<path:object_id>", "<int:content_type_id>", "<path:content_type_id>"):
            address = address.replace(part, "1")
        answer = browser.get(address)
        walked += 1

        assert answer.status_code == 302, (address, answer.status_code)
        assert "/admin/login/" in answer["Location"], address

    assert walked > 10
