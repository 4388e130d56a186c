"""Photos: tagged by arrow keys and by touch; a tag leads to the form with its place chosen."""

from playwright.sync_api import expect

from tests.pages.browser.conftest import PHONE, Bench, Open


def test_a_tag_is_set_by_touch_moved_by_keys_and_leads_to_the_reading(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE)
    page = watched.page
    page.goto(f"/cases/photos/{bench.photo.pk}/")
    page.locator("#choose-TP4").check()
    page.locator(".tagged-picture").click()
    expect(page.locator("#across-TP4")).to_have_value("50")
    page.locator("#across-TP4").press("Alt+ArrowRight")
    expect(page.locator("#across-TP4")).to_have_value("51")
    page.get_by_role("button", name="Keep the tags").press("Enter")
    expect(page.locator("figcaption")).to_contain_text("TP4 (51.0 % from the left")
    watched.check()
    page.goto(f"/cases/{bench.open_case.pk}/readings/")
    page.get_by_role("link", name="Log a reading at TP4").press("Enter")
    expect(page.locator("#id_readings-0-place")).to_have_value("TP4")
    watched.check()


def test_a_tag_touched_on_the_case_page_leads_to_its_row_below_the_cautions(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE, has_touch=True)
    page = watched.page
    page.goto(f"/cases/{bench.open_case.pk}/")
    page.get_by_text("1 photo of the real part").tap()
    tag = page.get_by_role("link", name="Log a reading at TP2")
    tag.scroll_into_view_if_needed()
    box = tag.bounding_box()
    assert box is not None
    watched.check()
    tag.tap()
    expect(page.locator("#id_readings-0-place")).to_have_value("TP2")
    expect(page.get_by_text("Before you put a lead on it")).to_be_in_viewport()

    # WCAG 2.2, success criterion 2.5.8: at least 24 px each way; a glove wants more.
    assert min(box["width"], box["height"]) >= 24
