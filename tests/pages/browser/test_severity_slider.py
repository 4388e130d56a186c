"""A fault at any severity: found by typing, slid along by keyboard, and without a script too."""

import re

from playwright.sync_api import expect

from tests.pages.browser.conftest import PHONE, Bench, Open

PAGE = "/circuits/fuel-pump/"


def test_a_fault_is_found_by_typing_and_slid_along_with_the_keyboard(
    bench: Bench, open_page: Open
) -> None:
    """1.1 Ohm in the pump's connector leave it 6.79 V, a third more of it less, and an open none:
    the reference circuit, solved apart from us."""
    watched = open_page(bench.cast.technician, viewport=PHONE, has_touch=True)
    page = watched.page
    page.goto(PAGE)
    told, slide = page.locator("#told"), page.locator("#slide")
    expect(slide).to_be_disabled()

    page.get_by_label("Find a fault").fill("c40 open")
    expect(page.locator("#found-faults")).to_have_text("1 fault matches")
    page.keyboard.press("Enter")
    expect(told).to_contain_text("C40: connector open")
    expect(page.locator("#curve svg")).to_be_visible()
    expect(slide).to_be_enabled()

    page.get_by_label("How bad", exact=True).fill("1.1")
    expect(told).to_contain_text("TP2 ignition on, prime (first 2 s) 6.79 V instead of 11.71 V")
    expect(slide).to_have_attribute("aria-valuetext", "1.10 Ohm")
    slide.focus()
    page.keyboard.press("ArrowRight")
    expect(page.get_by_label("How bad", exact=True)).to_have_value("1.26 Ohm")
    expect(told).to_contain_text("C40: 1.26 Ohm added resistance")
    expect(page.locator("#curve .figure").first).to_have_text("1.26 Ohm")
    expect(page).to_have_url(re.compile("fault=resistance%3AC40&severity=1.26"))
    page.keyboard.press("Home")
    expect(told).to_contain_text("C40: as it should be: none of 28 readings")

    page.get_by_label("How bad", exact=True).fill("5 V")
    expect(page.locator("#readings").get_by_role("alert")).to_contain_text("Ohm is wanted here")
    watched.check()
    small = page.evaluate(
        """() => [...document.querySelectorAll(".what-if button, .what-if input, .what-if select")]
             .filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 44)
             .map((e) => e.outerHTML.slice(0, 100))"""
    )
    assert small == []


def test_without_script_a_fault_is_shown_by_sending_the_form(bench: Bench, open_page: Open) -> None:
    watched = open_page(bench.cast.technician, java_script_enabled=False)
    page = watched.page
    page.goto(PAGE)
    expect(page.get_by_label("Find a fault")).to_be_hidden()
    page.get_by_label("With this fault").select_option("ground-short:PP")
    page.get_by_label("How bad", exact=True).fill("2 Ohm")
    page.get_by_label("Curve at").select_option("TP5")
    page.get_by_role("button", name="Show it beside healthy").click()

    expect(page.locator("#told")).to_contain_text("PP: path of 2 Ohm to ground")
    expect(page.locator("#curve svg .head").first).to_contain_text("TP5")
    page.get_by_role("button", name="As bad as can be").click()
    expect(page.locator("#told")).to_contain_text("PP: dead short to ground")
