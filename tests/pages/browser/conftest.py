"""A real Chromium, a server with the cast and their cases, and what every page must keep.

These tests are a pytest run of their own: the browser keeps an event loop in the process, under
which Django would otherwise refuse to talk to its database.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    expect,
    sync_playwright,
)

from cases.models import Attempt, Case, Exercise, Photo
from cases.services.exercises import ask_reading, name_fault, open_exercise, start_attempt
from cases.services.photos import tag_photo
from circuits.walks import Step, write_walk
from tests.cases.photographs import photographed, photographed_reading
from tests.cast import (
    FEED_FAULT,
    FEED_READINGS,
    GROUND_FAULT,
    GROUND_READINGS,
    MONDAY,
    SOUND_READINGS,
    Cast,
    call_cast,
    logged,
    publish,
    repaired,
    shared,
)
from tests.jobs import empty_queue

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text()
DESKTOP = {"width": 1280, "height": 800}
PHONE = {"width": 360, "height": 740}
#: How long a page may take, in milliseconds: a slow machine is not a broken page.
PATIENCE = 30_000
expect.set_options(timeout=PATIENCE)


@dataclass(frozen=True)
class Bench:
    """What is on the server: people, cases of each kind, an exercise at both of its ends."""

    address: str
    cast: Cast
    feed_case: Case
    ground_case: Case
    open_case: Case
    exercise: Exercise
    running: Attempt
    answered: Attempt
    photo: Photo


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def bench(live_server, transactional_db) -> Bench:
    empty_queue()
    cast = call_cast()
    revision = publish("fuel_pump.txt", by=cast.technician)
    feed = logged(cast, revision, FEED_READINGS, claim=FEED_FAULT)
    photographed_reading(cast, feed.readings.earliest("pk"))
    feed = shared(repaired(feed, SOUND_READINGS, by=cast.technician), by=cast.technician)
    ground = logged(
        cast,
        revision,
        GROUND_READINGS,
        claim=GROUND_FAULT,
        by=cast.outsider,
        shop=cast.other_shop,
        complaint="Cuts out when I corner hard or go over bumps.",
    )
    ground = shared(ground, by=cast.outsider)
    exercise = open_exercise(case=ground, shop=cast.shop, by=cast.owner, at=MONDAY)
    attempts = []
    for person in (cast.owner, cast.technician):
        attempt = start_attempt(exercise=exercise, by=person, at=MONDAY)
        ask_reading(attempt=attempt, place="TP4", phase="prime", by=person, at=MONDAY)
        attempts.append(attempt)
    photo = photographed(cast, revision.circuit)
    tag_photo(photo=photo, tags={"TP2": (0.25, 0.5)}, by=cast.technician)
    write_walk(
        circuit=revision.circuit,
        title="How the pump is fed",
        steps=[
            Step(sentence="At rest all is open."),
            Step(sentence="The relay feeds the pump.", phase="prime", pin="K87"),
            Step(sentence="A poor joint.", phase="prime", suspect="resistance:C40"),
        ],
        by=cast.technician,
        at=MONDAY,
    )
    answered = name_fault(attempt=attempts[1], suspect=GROUND_FAULT, by=cast.technician, at=MONDAY)
    return Bench(
        address=live_server.url,
        cast=cast,
        feed_case=feed,
        ground_case=ground,
        open_case=logged(cast, revision, complaint="Stalls when hot, starts after a coffee."),
        exercise=exercise,
        running=attempts[0],
        answered=answered,
        photo=photo,
    )


@dataclass
class Watched:
    """A page, and everything it did that no page may do."""

    page: Page
    wrongs: list[str]

    def check(self) -> None:
        """Fail if anything went wrong on the way, if it scrolls sideways, or if axe objects."""
        self.page.wait_for_load_state()
        self.page.locator(".htmx-request").first.wait_for(state="detached")
        width, shown = self.page.evaluate(
            "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        if width > shown:
            self.wrongs.append(f"{self.page.url} scrolls sideways: {width} px on {shown}")
        self.page.evaluate(AXE)
        violations = self.page.evaluate("axe.run().then((found) => found.violations)")
        self.wrongs += [
            f"{self.page.url}: {violation['help']}: {node['html'][:200]}"
            for violation in violations
            for node in violation["nodes"]
        ]
        assert self.wrongs == []


Open = Callable[..., Watched]


@pytest.fixture
def open_page(chromium: Browser, bench: Bench) -> Iterator[Open]:
    """Return a function that opens a watched page, signed in as this person or as nobody."""
    contexts: list[BrowserContext] = []

    def opened(user: User | None = None, **options: Any) -> Watched:
        context = chromium.new_context(base_url=bench.address, **{"viewport": DESKTOP, **options})
        context.set_default_timeout(PATIENCE)
        contexts.append(context)
        if user is not None:
            context.add_cookies(
                [{"name": "sessionid", "value": _session(user), "url": bench.address}]
            )
        page = context.new_page()
        watched = Watched(page, [])
        page.on("console", lambda message: _note_console(watched, message))
        page.on("pageerror", lambda error: watched.wrongs.append(f"script broke: {error}"))
        page.on("request", lambda request: _note_request(watched, request, bench.address))
        return watched

    yield opened
    for context in contexts:
        context.close()


def _session(user: User) -> str:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client.cookies["sessionid"].value


def _note_console(watched: Watched, message: ConsoleMessage) -> None:
    # A form that comes back with something to mend is answered 422, which the browser reports. A
    # request that the next one replaces is broken off; one that fails is told of by another line.
    quiet = ("status of 422", "htmx:sendAbort", "htmx:afterRequest")
    if message.type in ("error", "warning") and not any(each in message.text for each in quiet):
        watched.wrongs.append(f"console {message.type}: {message.text}")


def _note_request(watched: Watched, request: Request, address: str) -> None:
    if not request.url.startswith((address, "data:", "blob:")):
        watched.wrongs.append(f"asked another host: {request.url}")
