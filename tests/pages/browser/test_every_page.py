"""Every page, at the desk and on a phone, in the light and in the dark, by keyboard alone."""

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from tests.pages.browser.conftest import DESKTOP, PHONE, Bench, Open


def _addresses(bench: Bench) -> list[str]:
    feed, ground, fresh = bench.feed_case.pk, bench.ground_case.pk, bench.open_case.pk
    reading = bench.feed_case.readings.values_list("pk", flat=True)[0]
    return [
        "/",
        "/help/",
        "/cases/",
        "/cases/?standing=verified",
        "/cases/new/?circuit=fuel-pump",
        "/cases/bring-in/",
        "/cases/logs/",
        f"/cases/{feed}/",
        f"/cases/{ground}/",
        f"/cases/{fresh}/",
        f"/cases/{feed}/similar/",
        f"/cases/{feed}/verdicts/",
        f"/cases/{feed}/edit/",
        f"/cases/{feed}/readings/",
        f"/cases/{feed}/readings/after/",
        f"/cases/{feed}/readings/bring-in/",
        f"/cases/{feed}/readings/{reading}/",
        f"/cases/{feed}/readings/{reading}/photos/",
        f"/cases/{fresh}/circuit/",
        f"/cases/{feed}/claim/",
        f"/cases/{feed}/repair/",
        f"/cases/{feed}/share/",
        f"/cases/{feed}/withdraw/",
        "/cases/search/?circuit=fuel-pump&words=p0087+motorway",
        "/cases/search/?circuit=fuel-pump&words=motorway&other_makes=on&standing=held",
        "/cases/words/",
        "/cases/rejudged/",
        "/cases/?standing=held&outcome=open",
        "/cases/exercises/",
        f"/cases/attempts/{bench.answered.pk}/",
        "/cases/photos/?circuit=fuel-pump",
        f"/cases/photos/{bench.photo.pk}/",
        f"/cases/{fresh}/readings/?place=TP2",
        f"/cases/{fresh}/readings/sheet/",
        f"/cases/{fresh}/readings/sheet/?part=PUMP",
        f"/cases/{fresh}/readings/sheet/?part=K3&bench=1",
        "/cases/sheet/?circuit=fuel-pump&part=PUMP",
        f"/cases/{fresh}/next/",
        f"/cases/{feed}/next/",
        "/circuits/",
        "/circuits/new/",
        "/circuits/text-form/",
        "/circuits/fuel-pump/?fault=resistance:C40&severity=1.1",
        "/circuits/fuel-pump/drawing/?phase=prime&fault=resistance:C40&severity=1.1&pin=K87",
        "/circuits/fuel-pump/finding/?finding=no-fuse:W1",
        "/circuits/fuel-pump/test-sheet/?part=PUMP",
        "/circuits/fuel-pump/test-sheet/?part=K3&bench=1",
        "/circuits/fuel-pump/rules/",
        "/circuits/fuel-pump/references/",
        "/circuits/fuel-pump/revise/",
        "/circuits/fuel-pump/confirm/",
        "/circuits/fuel-pump/compare/",
        "/circuits/write/",
        "/circuits/fuel-pump/walks/",
        "/circuits/fuel-pump/walks/write/",
        "/circuits/fuel-pump/walks/1/",
    ]


def _status_at(page: Page, address: str) -> int:
    answer = page.goto(address)
    return answer.status if answer is not None else 0


@pytest.mark.parametrize(("viewport", "scheme"), [(DESKTOP, "light"), (PHONE, "dark")])
def test_every_page_is_whole(
    viewport: dict[str, int], scheme: str, bench: Bench, open_page: Open
) -> None:
    """No console error, no other host, no sideways scroll, nothing that axe-core objects to."""
    watched = open_page(bench.cast.technician, viewport=viewport, color_scheme=scheme)
    for address in _addresses(bench):
        assert _status_at(watched.page, address) == 200, address
        watched.check()
    owner = open_page(bench.cast.owner, viewport=viewport, color_scheme=scheme)
    for address in (
        f"/cases/attempts/{bench.running.pk}/",
        f"/cases/exercises/{bench.exercise.pk}/class/",
    ):
        assert _status_at(owner.page, address) == 200, address
        owner.check()
    newcomer = User.objects.create_user("newcomer", password="not used")
    nobody_yet = open_page(newcomer, viewport=viewport, color_scheme=scheme)
    for address in ("/", "/cases/new/", "/cases/exercises/"):
        nobody_yet.page.goto(address)
        expect(nobody_yet.page.get_by_text("You belong to no shop yet")).to_be_visible()
        nobody_yet.check()
    stranger = open_page(viewport=viewport, color_scheme=scheme)
    stranger.page.goto("/sign-in/")
    stranger.check()


@pytest.mark.parametrize("status", [404, 403])
def test_a_page_that_is_not_there_or_not_yours_says_so_and_leads_on(
    status: int, bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician)
    address = {404: "/cases/999999/", 403: f"/cases/{bench.ground_case.pk}/claim/"}[status]
    assert _status_at(watched.page, address) == status
    watched.wrongs = [wrong for wrong in watched.wrongs if f"status of {status}" not in wrong]
    expect(watched.page.get_by_role("link", name="To the start page")).to_be_visible()
    watched.check()


def _interactive(page: Page) -> list[str]:
    return page.evaluate(
        """() => [...document.querySelectorAll(
             'a[href], button, input, select, textarea, summary, [tabindex="0"]')]
           .filter((e) => e.type !== 'hidden')
           .filter((e) => e.checkVisibility() && !e.disabled && e.tabIndex >= 0)
           .filter((e) => !(e.type === 'radio' && !e.checked))
           .map((e, at) => (e.dataset.at = at, String(at)))"""
    )


@pytest.mark.parametrize(
    "address",
    [
        "/cases/new/?circuit=fuel-pump",
        "/cases/{}/",
        "/cases/{}/readings/sheet/?part=PUMP",
        "/circuits/fuel-pump/",
        "/circuits/fuel-pump/drawing/?phase=prime&fault=resistance:C40&pin=K87",
        "/circuits/fuel-pump/walks/write/",
        "/",
    ],
)
def test_the_tab_key_reaches_everything_and_shows_where_it_is(
    address: str, bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    page.goto(address.format(bench.feed_case.pk))
    page.wait_for_load_state("networkidle")
    wanted = _interactive(page)
    reached, unmarked = [], []
    for _ in range(len(wanted) + 5):
        page.keyboard.press("Tab")
        at, outline, html = page.evaluate(
            """() => { const e = document.activeElement;
                 return [e.dataset.at ?? '', getComputedStyle(e).outlineStyle,
                         e.outerHTML.slice(0, 120)]; }"""
        )
        reached.append(at)
        if at and outline == "none":
            unmarked.append(html)

    assert set(wanted) - set(reached) == set()
    assert unmarked == []


def test_single_keys_lead_on_and_can_be_switched_off(bench: Bench, open_page: Open) -> None:
    """WCAG 2.1, 2.1.4: keys of one character can be turned off."""
    page = open_page(bench.cast.technician).page
    page.goto("/")
    page.keyboard.press("/")
    page.keyboard.type("pump")
    assert page.evaluate("document.activeElement.value") == "pump"

    page.locator("h1").click()
    page.keyboard.press("?")
    dialog = page.get_by_role("dialog", name="Keys")
    expect(dialog).to_be_visible()
    dialog.get_by_label("Single keys work on this device").uncheck()
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    page.keyboard.press("n")
    page.wait_for_timeout(300)
    assert page.url == f"{bench.address}/"

    page.locator(".account summary").click()
    page.get_by_role("button", name="Keys").click()
    dialog.get_by_label("Single keys work on this device").check()
    page.keyboard.press("Escape")
    page.locator("h1").click()
    page.keyboard.press("n")
    page.wait_for_url("**/cases/new/")


def test_on_a_phone_everything_to_be_touched_is_large_enough(bench: Bench, open_page: Open) -> None:
    """At least 44 px high; links inside a sentence are spared, as in WCAG 2.2, 2.5.8."""
    page = open_page(bench.cast.technician, viewport=PHONE, has_touch=True).page
    small = []
    for address in (f"/cases/{bench.feed_case.pk}/readings/", f"/cases/{bench.feed_case.pk}/"):
        page.goto(address)
        small += page.evaluate(
            """() => [...document.querySelectorAll(
                 'button, .button, select, input:not([type=hidden], [type=checkbox]), .mainnav a')]
               .filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 44)
               .map((e) => e.outerHTML.slice(0, 120))"""
        )

    assert small == []


def test_focus_is_never_hidden_behind_the_bar_at_the_foot_of_a_phone(
    bench: Bench, open_page: Open
) -> None:
    """WCAG 2.2, 2.4.11: what has the focus is not entirely hidden."""
    page = open_page(bench.cast.technician, viewport=PHONE).page
    page.goto(f"/cases/{bench.feed_case.pk}/readings/")
    hidden = []
    for _ in range(40):
        page.keyboard.press("Tab")
        hidden += page.evaluate(
            """() => { const e = document.activeElement;
                 if (e === document.body || e.closest('.mainnav')) return [];
                 const bar = document.querySelector('.mainnav').getBoundingClientRect().top;
                 const top = e.getBoundingClientRect().top;
                 return top >= bar ? [e.outerHTML.slice(0, 120)] : []; }"""
        )

    assert hidden == []
