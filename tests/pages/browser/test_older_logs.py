"""An older log brought in on a phone: the bar moves by itself, the refused lines come back.

Common practice, no source.
"""

from playwright.sync_api import expect

from cases.models import Case
from tests.jobs import run_jobs
from tests.pages.browser.conftest import PHONE, Bench, Open

LOG = b"case,make,complaint\n1,Tolvane,Horn silent in the rain\n2,,Wipers stop\n"


def test_a_log_is_checked_and_taken_in_while_its_owner_looks_on(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.owner, viewport=PHONE)
    page = watched.page
    page.goto("/cases/bring-in/")
    page.get_by_role("link", name="bring in an older log").click()
    watched.check()
    page.get_by_label("File").set_input_files(
        {"name": "old.csv", "mimeType": "text/csv", "buffer": LOG}
    )
    page.get_by_role("button", name="Bring it in").click()

    expect(page.get_by_role("heading", name="Waiting for its turn")).to_be_visible()
    expect(page.get_by_role("progressbar")).to_have_attribute("value", "0")
    watched.check()
    run_jobs()

    expect(page.get_by_role("heading", name="Checked")).to_be_visible()
    expect(page.get_by_role("row", name="Line 3")).to_contain_text("make: is empty.")
    watched.check()
    with page.expect_download() as download:
        page.get_by_role("link", name="Refused lines as a file").click()
    mended = download.value.path().read_bytes().replace(b"2,,", b"2,Tolvane,")
    page.get_by_role("button", name="Take 1 case in").press("Enter")
    expect(page.get_by_role("heading", name="Waiting for its turn")).to_be_visible()
    run_jobs()

    expect(page.get_by_role("heading", name="Taken in")).to_be_visible()
    watched.check()
    page.goto("/cases/logs/")
    page.get_by_label("File").set_input_files(
        {"name": "mended.csv", "mimeType": "text/csv", "buffer": mended}
    )
    page.get_by_label("Take every good case in").check()
    page.get_by_role("button", name="Bring it in").press("Enter")
    run_jobs()

    expect(page.get_by_role("heading", name="Taken in")).to_be_visible()
    watched.check()
    assert Case.objects.filter(taken_in__isnull=False).count() == 2
