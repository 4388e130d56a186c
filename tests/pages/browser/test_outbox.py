"""Readings typed without a line wait on the device and are logged once when it is back."""

import re

from playwright.sync_api import Page, expect

from cases.models import LoggedReading, ReadingPhoto, ReadingPhotoQuerySet
from tests.cases.photographs import telephone_jpeg
from tests.pages.browser.conftest import PHONE, Bench, Open


def test_what_was_typed_without_a_line_is_sent_once_when_it_is_back(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE)
    page = watched.page
    page.goto(f"/cases/{bench.open_case.pk}/readings/")
    page.locator('[name="readings-0-text"]').fill("12.41")
    page.locator('[name="readings-0-phase"]').select_option("prime")
    page.context.set_offline(True)
    page.get_by_role("button", name="Log them").click()
    expect(page.locator(".outbox")).to_contain_text("sent when the line is back")
    assert not LoggedReading.objects.filter(case=bench.open_case).exists()

    page.context.set_offline(False)
    expect(page.locator(".outbox")).to_contain_text("The line is back, and sent")
    page.reload()
    page.goto(f"/cases/{bench.open_case.pk}/")
    expect(page.locator("#readings")).to_contain_text("12.41")
    assert [row.text for row in LoggedReading.objects.filter(case=bench.open_case)] == ["12.41"]
    # Without a line the browser and the echo beside the field say so in the console.
    offline = ("ERR_INTERNET_DISCONNECTED", "htmx:")
    watched.wrongs = [
        wrong for wrong in watched.wrongs if not any(word in wrong for word in offline)
    ]
    watched.check()


def test_what_waits_is_sent_from_any_page_after_the_browser_was_closed(
    bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    page.goto(f"/cases/{bench.open_case.pk}/readings/sheet/?part=PUMP")
    page.locator('[name="row-0-text"]').fill("12.2")
    page.context.set_offline(True)
    page.get_by_role("button", name="Log them").click()
    _wait_and_be_sent_after_the_browser_was_closed(page)
    assert [row.text for row in LoggedReading.objects.filter(case=bench.open_case)] == ["12.2"]


def test_a_photo_waits_with_its_reading_and_goes_with_it(bench: Bench, open_page: Open) -> None:
    page = open_page(bench.cast.technician, viewport=PHONE).page
    page.goto(f"/cases/{bench.open_case.pk}/readings/")
    page.locator('[name="readings-0-text"]').fill("12.41")
    _choose_photo(page, row=0)
    page.context.set_offline(True)
    page.get_by_role("button", name="Log them").click()
    _wait_and_be_sent_after_the_browser_was_closed(page)
    assert [photo.reading.text for photo in _photos(bench)] == ["12.41"]


def test_a_photo_is_still_in_its_row_when_the_form_comes_back_or_a_draft_is_brought_back(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician)
    page = watched.page
    form = f"/cases/{bench.open_case.pk}/readings/"
    page.goto(form)
    # The first row stays empty, so that the second becomes the first when the form is drawn anew.
    page.locator('[name="readings-0-place"]').select_option("TP3")
    page.locator('[name="readings-1-place"]').select_option("TP2")
    page.locator('[name="readings-1-text"]').fill("twelve")
    _choose_photo(page, row=1)
    page.get_by_role("button", name="Log them").click()
    expect(page.locator("#problems")).to_contain_text("thing to mend")
    assert page.locator('[name="readings-1-photo"]').evaluate("(input) => input.files.length") == 1

    page.goto(form)
    page.get_by_role("button", name="Bring it back").click()
    row = page.locator("[data-row]").filter(has=page.locator('[value="twelve"]'))
    expect(row.locator("[data-row-value]")).to_have_value("twelve")
    expect(row.locator("input[type=file]")).to_have_value(re.compile(r"display\.jpg"))
    row.locator("[data-row-value]").fill("12.1")
    page.get_by_role("button", name="Log them").click()
    expect(page.locator(".notices")).to_contain_text("logged and judged")
    assert [(photo.reading.place_key, photo.reading.text) for photo in _photos(bench)] == [
        ("TP2", "12.1")
    ]
    watched.check()


def _wait_and_be_sent_after_the_browser_was_closed(page: Page) -> None:
    expect(page.locator(".outbox")).to_contain_text("kept on this device")
    page.close()

    page.context.set_offline(False)
    later = page.context.new_page()
    later.goto("/circuits/")
    expect(later.locator(".outbox")).to_contain_text("The line is back, and sent")


def _choose_photo(page: Page, *, row: int) -> None:
    page.get_by_text("More about this reading").nth(row).click()
    page.locator(f'[name="readings-{row}-photo"]').set_input_files(
        {"name": "display.jpg", "mimeType": "image/jpeg", "buffer": telephone_jpeg()}
    )
    expect(page.locator(f'[name="readings-{row}-photo_key"]')).not_to_have_value("")


def _photos(bench: Bench) -> ReadingPhotoQuerySet:
    return ReadingPhoto.objects.filter(reading__case=bench.open_case).select_related("reading")


def test_with_a_line_the_form_leads_to_the_case_as_ever_and_mistakes_come_back(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician)
    page = watched.page
    page.goto(f"/cases/{bench.open_case.pk}/readings/")
    page.locator('[name="readings-0-text"]').fill("twelve")
    expect(page.locator(".echo").first).to_contain_text("twelve")
    page.get_by_role("button", name="Log them").click()
    expect(page.locator("#problems")).to_contain_text("thing to mend")
    page.locator('[name="readings-0-text"]').fill("12.2")
    expect(page.locator(".echo").first).to_contain_text("12.2 V")
    page.get_by_role("button", name="Log them").click()
    expect(page).to_have_url(f"{bench.address}/cases/{bench.open_case.pk}/")
    expect(page.locator(".notices")).to_contain_text("logged and judged")
    watched.check()


def test_whoever_was_signed_out_meanwhile_loses_nothing(bench: Bench, open_page: Open) -> None:
    page = open_page(bench.cast.technician).page
    page.goto(f"/cases/{bench.open_case.pk}/readings/")
    page.locator('[name="readings-0-text"]').fill("12.41")
    page.context.set_offline(True)
    page.get_by_role("button", name="Log them").click()
    expect(page.locator(".outbox")).to_contain_text("sent when the line is back")

    session = next(each for each in page.context.cookies() if each["name"] == "sessionid")
    page.context.clear_cookies(name="sessionid")
    page.context.set_offline(False)
    expect(page.locator(".outbox")).to_contain_text("Sign in again")
    assert not LoggedReading.objects.filter(case=bench.open_case).exists()

    page.context.add_cookies(
        [{"name": "sessionid", "value": session["value"], "url": bench.address}]
    )
    page.goto("/circuits/")
    expect(page.locator(".outbox")).to_contain_text("The line is back, and sent")
    assert [row.text for row in LoggedReading.objects.filter(case=bench.open_case)] == ["12.41"]


def test_what_the_server_refuses_later_leads_back_to_its_form_and_is_done_once_mended(
    bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    form = f"/cases/{bench.open_case.pk}/readings/"
    page.goto(form)
    page.locator('[name="readings-0-text"]').fill("twelve")
    page.context.set_offline(True)
    page.get_by_role("button", name="Log them").click()
    page.context.set_offline(False)
    expect(page.locator(".outbox")).to_contain_text("did not take what was typed")

    page.locator(".outbox a").click()
    expect(page).to_have_url(f"{bench.address}{form}")
    page.get_by_role("button", name="Bring it back").click()
    expect(page.locator('[name="readings-0-text"]')).to_have_value("twelve")
    page.locator('[name="readings-0-text"]').fill("12.1")
    page.get_by_role("button", name="Log them").click()
    expect(page.locator(".notices")).to_contain_text("logged and judged")
    page.goto("/circuits/")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator(".outbox")).to_have_count(0)
    assert [row.text for row in LoggedReading.objects.filter(case=bench.open_case)] == ["12.1"]
