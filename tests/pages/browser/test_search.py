"""Search as its user types: found while typing, narrowed, kept, and the same by its address."""

from playwright.sync_api import expect

from tests.pages.browser.conftest import PHONE, Bench, Open


def test_cases_are_found_while_one_types_and_the_address_says_what_was_asked(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician)
    page = watched.page
    page.goto("/cases/search/")
    page.get_by_role("searchbox", name="Codes or words", exact=True).press_sequentially("motorway")
    hit = page.locator("#found .hit").first

    expect(hit).to_be_visible()
    page.wait_for_url("**/cases/search/?*words=motorway*")
    score = hit.locator(".sum .points").inner_text()
    watched.check()
    page.reload()

    expect(page.locator("#found .hit .sum .points").first).to_have_text(score)


def test_the_rows_of_a_circuit_that_is_chosen_stay_while_cases_are_found_by_their_readings(
    bench: Bench, open_page: Open
) -> None:
    """12.35 V at the battery and 6.79 V at the pump: the two cases that the bench has of it."""
    watched = open_page(bench.cast.technician)
    page = watched.page
    page.goto("/cases/search/")
    page.get_by_label("Circuit", exact=True).select_option("fuel-pump")
    for row, (place, text) in enumerate((("TP1", "12.35"), ("TP2", "6.79"))):
        page.locator(f"[name=readings-{row}-place]").select_option(place)
        page.locator(f"[name=readings-{row}-phase]").select_option("prime")
        page.locator(f"[name=readings-{row}-text]").fill(text)

    expect(page.locator("#found .reasons").first).to_contain_text("6.79")
    page.wait_for_url("**readings-1-text=6.79**")
    expect(page.locator("[name=readings-1-text]")).to_have_value("6.79")
    # The list comes first; what the readings allow fills itself in.
    expect(page.locator("#found .hit-group .mark.fits").first).to_have_text("fits here")
    expect(page.locator("#found")).not_to_contain_text("being worked out")
    watched.check()


def test_a_search_is_narrowed_by_what_was_found_kept_and_forgotten(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE)
    page = watched.page
    page.goto("/cases/search/?circuit=fuel-pump&words=motorway+corner+P0087")
    found = page.get_by_role("navigation", name="Narrow what was found")
    found.get_by_role("link", name="held").click()

    expect(page.get_by_role("link", name="standing: held")).to_be_visible()
    expect(page.locator("#found .hit")).to_have_count(1)
    page.get_by_label("Keep this search as").fill("pumps that held")
    page.get_by_role("button", name="Keep", exact=True).click()
    kept = page.get_by_role("navigation", name="Searches you kept")

    expect(kept.get_by_role("link", name="pumps that held")).to_be_visible()
    watched.check()
    page.goto("/cases/search/")
    kept.get_by_role("link", name="pumps that held").click()

    expect(page.locator("#found .hit")).to_have_count(1)
    kept.get_by_role("button", name="Forget pumps that held").click()

    expect(kept).to_have_count(0)
    watched.check()


def test_a_slip_in_a_complaint_is_asked_about_and_mended_by_keys_alone(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician)
    page = watched.page
    page.goto("/cases/new/")
    complaint = page.get_by_label("Complaint, in the driver's words")
    complaint.press_sequentially("Altenator whines, the altenator is new")
    question = page.get_by_role("button", name="alternator", exact=True)

    expect(question).to_be_visible()
    expect(complaint).to_have_value("Altenator whines, the altenator is new")
    watched.check()
    complaint.press("Tab")
    expect(question).to_be_focused()
    question.press("Enter")

    expect(complaint).to_have_value("Alternator whines, the alternator is new")
    expect(complaint).to_be_focused()
    expect(question).to_have_count(0)
