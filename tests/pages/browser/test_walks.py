"""A walk-through is written by keyboard, and shown step by step over the whole screen."""

from playwright.sync_api import expect

from tests.pages.browser.conftest import PHONE, Bench, Open


def test_a_walk_through_is_shown_by_arrow_keys_and_closed_by_escape(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE, color_scheme="dark")
    page = watched.page
    page.goto("/circuits/fuel-pump/walks/1/")
    page.get_by_role("button", name="Show it full-screen").press("Enter")
    shown = page.locator("[data-step] h2:visible")
    expect(shown).to_have_text("1 of 3 At rest all is open.")
    page.keyboard.press("ArrowRight")
    expect(shown).to_have_text("2 of 3 The relay feeds the pump.")
    watched.check()
    page.keyboard.press("End")
    expect(shown).to_have_text("3 of 3 A poor joint.")
    page.keyboard.press("Escape")
    expect(shown).to_have_count(3)
    expect(page.get_by_role("button", name="Show it full-screen")).to_be_focused()


def test_a_step_is_moved_before_anything_is_kept(bench: Bench, open_page: Open) -> None:
    watched = open_page(bench.cast.technician)
    page = watched.page
    page.goto("/circuits/fuel-pump/walks/1/write/")
    page.get_by_role("button", name="Later step 1").press("Enter")
    expect(page.get_by_label("Sentence").first).to_have_value("The relay feeds the pump.")
    page.get_by_label("Sentence").nth(2).fill("")
    page.get_by_role("button", name="Keep it").press("Enter")
    expect(page.get_by_role("link", name="Step 3")).to_be_visible()
    watched.check()
    page.get_by_label("Sentence").nth(2).fill("A joint gone bad.")
    page.get_by_role("button", name="Keep it").press("Enter")
    expect(page.locator("[data-step] h2")).to_have_text(
        [
            "1 of 3 The relay feeds the pump.",
            "2 of 3 At rest all is open.",
            "3 of 3 A joint gone bad.",
        ]
    )
