"""A circuit is typed in from a printed table, by keyboard alone; nothing that was typed is lost."""

import pytest
from playwright.sync_api import Locator, Page, expect

from circuits.models import Circuit, Draft
from tests.cast import publish
from tests.pages.browser.conftest import PHONE, Bench, Open

#: As printed: a heated seat pad behind a relay. Name, kind, from, to, values.
PARTS = """
BAT      battery   BP     BN     12.60 V, 10 mOhm
WG       wire      BN     CH     16 mm2, 0.5 m
F9       fuse      BP     F9b    10 A, cold 8 mOhm
W1       wire      F9b    K7/30  2.5 mm2, 1.0 m
K7.coil  coil      F9b    K7/85  90 Ohm
K7.con   contact   K7/30  K7/87  by K7.coil, made 5 mOhm, pulls in 7.2 V, lets go 2.0 V
W2       wire      K7/87  PAD+   2.5 mm2, 2.0 m
PAD      resistor  PAD+   PAD-   4.0 Ohm
W3       wire      PAD-   CH     2.5 mm2, 1.0 m
SW       switch    K7/85  CH     50 mOhm
"""
PHASES = """
off   on  seat heater off
warm  on  seat heater on
"""
#: Copied from a spreadsheet with its headings, which stand in an order of their own.
PLACES = (
    "Unit\tName\tIn words\tRed lead\tBlack lead\n"
    "V\tTP1\tbattery posts\tBP\tBN\n"
    "V\tTP2\tat the pad\tPAD+\tPAD-\n"
)
#: Copied without headings: name, unit, clamp, nothing, words.
ANOTHER_PLACE = "TP3\tA\tthrough W2\t\tclamp on the pad's feed\n"


def lines(printed: str, cells: int) -> list[list[str]]:
    return [line.split(maxsplit=cells - 1) for line in printed.strip().splitlines()]


def type_rows(page: Page, rows: list[list[str]]) -> None:
    """Type rows from the cell that has the focus: Tab between cells, Enter behind each row."""
    for row in rows:
        for at, cell in enumerate(row):
            if at:
                page.keyboard.press("Tab")
            page.keyboard.type(cell)
        page.keyboard.press("Enter")


def paste(page: Page, block: str) -> None:
    page.evaluate(
        """(block) => {
             const held = new DataTransfer();
             held.setData('text/plain', block);
             document.activeElement.dispatchEvent(
               new ClipboardEvent('paste',
                 { clipboardData: held, bubbles: true, cancelable: true }));
           }""",
        block,
    )


def written(page: Page, section: str, cell: str) -> list[str]:
    fields = page.locator(f'[data-section="{section}"][data-cell="{cell}"]')
    return [value for value in fields.evaluate_all("all => all.map((e) => e.value)") if value]


def findings(page: Page) -> Locator:
    return page.locator("[data-findings] li")


def begin(page: Page, start: str) -> None:
    page.goto("/circuits/write/")
    page.get_by_role("button", name=start).press("Enter")
    expect(page.get_by_role("tab", name="Table")).to_be_visible()


@pytest.mark.slow
def test_a_circuit_is_typed_in_from_a_printed_table_inspected_and_solved(
    bench: Bench, open_page: Open
) -> None:
    """By hand, with cable at the largest ohms that ISO 6722-1 allows (7.60 and 1.16 mOhm/m, values
    from memory): the loop is 4.0 Ohm of pad, 10 mOhm of battery, 8 of fuse, 5 of contact, 30.4 and
    0.6 of wires: 4.054 Ohm. The winding's 0.14 A cost 2.5 mV before it: 3.11 A, 12.43 V."""
    watched = open_page(bench.cast.technician)
    page = watched.page
    begin(page, "Empty sheet")
    for word, text in (("Key", "seat-pad"), ("Title", "Seat heater pad"), ("System", "comfort")):
        page.get_by_label(word, exact=True).focus()
        page.keyboard.type(text)
    page.get_by_label("Short name, phase 1").focus()
    type_rows(page, lines(PHASES, 3))
    page.get_by_label("Name, part 1", exact=True).focus()
    rows = lines(PARTS, 5)
    rows[1][1] = "wyre"
    type_rows(page, rows)

    told = findings(page).filter(has_text="'wyre' is no kind of part.")
    expect(told).to_contain_text("Parts · WG · Kind")
    expect(page.get_by_label("Kind, part 2", exact=True)).to_have_attribute("aria-invalid", "true")
    told.get_by_role("button").press("Enter")
    page.keyboard.press("Control+a")
    page.keyboard.type("wire")
    page.get_by_role("button", name="Add the").press("Enter")
    assert written(page, "connections", "node")[3:] == [
        *("F9b", "K7/30", "K7/85", "K7/87", "PAD+", "PAD-"),
    ]

    page.get_by_label("SW, off").focus()
    page.keyboard.type("op")  # finished by itself
    page.get_by_label("Name, place 1", exact=True).focus()
    paste(page, PLACES)
    page.get_by_label("Name, place 3", exact=True).focus()
    paste(page, ANOTHER_PLACE)
    expect(page.locator("[data-clean]")).to_be_visible()
    read = page.locator("[data-seen] .predicted")
    expect(read.get_by_role("row", name="TP2")).to_contain_text("12.43 V")
    expect(read.get_by_role("row", name="TP3")).to_contain_text("3.11 A")
    expect(page.locator("[data-seen] svg.schematic")).to_be_visible()
    expect(page.locator("[data-inspected] h3")).to_contain_text("Inspection")
    expect(page.locator("[data-kept]")).to_contain_text("Kept")
    watched.check()

    page.get_by_label("What changed, and why").fill("read from the drawing in the door pocket")
    page.get_by_label("Yes, drawn at the vehicle").check()
    page.get_by_role("button", name="Publish it").press("Enter")
    page.wait_for_url("**/circuits/seat-pad/")
    expect(page.get_by_role("heading", level=1, name="Seat heater pad")).to_be_visible()
    watched.check()
    assert Circuit.objects.get(key="seat-pad").revisions.get().parts.count() == len(rows)
    assert not Draft.objects.exists()


@pytest.mark.slow
def test_typing_outlives_the_server_and_the_browser(bench: Bench, open_page: Open) -> None:
    """On a phone: what the server never got is back when the page is opened again, and can be
    undone; table and text change places without loss."""
    watched = open_page(bench.cast.technician, viewport=PHONE, color_scheme="dark", has_touch=True)
    page = watched.page
    begin(page, "Relay switched to ground, one load")
    watched.check()
    page.context.set_offline(True)
    field = page.get_by_label("Values, as typed, part 9")
    field.fill("1.4 Ohm")
    expect(page.locator("[data-kept]")).to_contain_text("kept on this device")
    address = page.url
    page.context.set_offline(False)
    watched.wrongs.clear()  # the browser says that it was offline
    other = page.context.new_page()
    page.close()
    other.goto(address)

    expect(other.get_by_label("Values, as typed, part 9")).to_have_value("1.4 Ohm")
    expect(other.locator("[data-kept]")).to_contain_text("Kept")
    assert "1.4 Ohm" in Draft.objects.get().text
    other.get_by_role("tab", name="Text").click()
    text = other.get_by_label("The circuit as text")
    expect(text).to_have_value(Draft.objects.get().text)
    text.fill(text.input_value().replace("1.4 Ohm", "1.5 Ohm  # measured") + "\n# last words\n")
    other.get_by_role("tab", name="Table").click()
    expect(other.get_by_label("Remark, part 9", exact=True)).to_have_value("measured")
    other.get_by_role("button", name="Undo").click()
    expect(other.get_by_label("Values, as typed, part 9")).to_have_value("1.4 Ohm")
    other.get_by_role("button", name="Redo").click()
    expect(other.get_by_label("Remark on a line of its own")).to_have_value("# last words")


@pytest.mark.slow
def test_rows_move_by_keyboard_and_a_relay_comes_by_its_pins(bench: Bench, open_page: Open) -> None:
    page = open_page(bench.cast.technician).page
    begin(page, "Three lamps that share one ground")
    names = written(page, "parts", "name")
    page.get_by_label("Name, part 2", exact=True).focus()
    page.keyboard.press("Alt+ArrowUp")
    assert written(page, "parts", "name") == [names[1], names[0], *names[2:]]
    page.keyboard.press("Alt+Delete")
    assert written(page, "parts", "name") == [names[0], *names[2:]]
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    assert written(page, "parts", "name") == names

    page.get_by_role("button", name="Relay or module by its pins").press("Enter")
    page.get_by_label("Name", exact=True).fill("K5")
    page.get_by_role("button", name="Add its rows").press("Enter")
    expect(page.get_by_role("dialog")).to_be_hidden()
    assert written(page, "parts", "name")[-2:] == ["K5.coil", "K5.con"]
    assert written(page, "connections", "node")[-4:] == ["K5/30", "K5/85", "K5/86", "K5/87"]
    expect(page.locator('[data-section="connections"][data-cell="label"]').nth(-2)).to_have_value(
        "relay K5, 87: relay, made when pulled in"
    )


def test_a_name_that_was_changed_is_written_wherever_it_is_meant(
    bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    begin(page, "Relay switched to ground, one load")
    before = "\n".join(written(page, "parts", "values"))
    field = page.locator('[data-section="parts"][data-cell="name"]').nth(
        written(page, "parts", "name").index("K1.coil")
    )
    field.fill("K9.coil")
    field.press("Tab")
    expect(page.locator("[data-offer-words]")).to_contain_text("K1.coil, which is K9.coil by now")
    page.get_by_role("button", name="Write it there too").press("Enter")

    assert "by K1.coil" in before
    assert "\n".join(written(page, "parts", "values")) == before.replace("K1.coil", "K9.coil")
    page.locator("[data-undo]").click()
    assert "\n".join(written(page, "parts", "values")) == before


def test_a_pasted_block_is_told_cell_by_cell_what_is_wrong_and_goes_and_comes_as_one_step(
    bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    begin(page, "Empty sheet")
    page.get_by_label("Name, part 1", exact=True).focus()
    paste(
        page,
        "Name\tKind\tFrom\tTo\tValues\n"
        "F5\tfuse\tBP\tF5b\t7,5 A\n"
        "W20\twire\tF5b\tS9a\t1.5 m2, 1.6 m\n"
        'H7\tlamp\tS9a\tCH\t"21 X"\n',
    )

    assert written(page, "parts", "name") == ["F5", "W20", "H7"]
    for part, told in (("W20", "m2"), ("H7", "21 X")):
        flaw = findings(page).filter(has_text=f"Parts · {part} · Values")
        expect(flaw).to_contain_text(told)
    expect(findings(page).filter(has_text="F5 · Values")).to_have_count(0)
    page.keyboard.press("Control+z")
    assert written(page, "parts", "name") == []
    findings(page).filter(has_text="there are no phases").get_by_role("button").click()
    expect(page.get_by_label("Short name, phase 1")).to_be_focused()
    page.keyboard.press("Control+y")
    assert written(page, "parts", "values") == ["7,5 A", "1.5 m2, 1.6 m", "21 X"]


@pytest.mark.slow
def test_of_two_who_write_at_once_the_second_sees_what_differs_and_publishes_both(
    bench: Bench, open_page: Open
) -> None:
    first = open_page(bench.cast.owner).page
    watched = open_page(bench.cast.technician, viewport=PHONE, has_touch=True)
    second = watched.page
    for page in (first, second):
        page.goto("/circuits/fuel-pump/")
        page.get_by_role("button", name="Change it in a table").click()
        expect(page.get_by_role("tab", name="Table")).to_be_visible()

    def change(page: Page, part: str, cell: str, text: str) -> None:
        row = page.locator(".cells-parts tbody tr").nth(written(page, "parts", "name").index(part))
        row.locator('[data-cell="name"]').click()
        row.locator(f'[data-cell="{cell}"]').fill(text)

    def publish_it(page: Page) -> None:
        page.get_by_label("What changed, and why").fill("measured")
        page.get_by_label("Yes, drawn at the vehicle").check()
        page.get_by_role("button", name="Publish it").click()

    change(first, "W3", "values", "1.5 mm2, 3.1 m, joints 3 mOhm")
    change(first, "W4", "remark", "seen on the car")
    change(second, "W3", "values", "1.5 mm2, 3.1 m, joints 9 mOhm")
    change(second, "W5", "remark", "runs under the carpet")
    publish_it(first)
    first.wait_for_url("**/circuits/fuel-pump/")
    publish_it(second)

    told = second.locator("#problems")
    expect(told).to_be_focused()
    expect(told).to_contain_text("revision 2 came in between")
    expect(told.get_by_role("row", name="W3")).to_contain_text("joints 3 mOhm")
    changes = second.locator("#changes")
    expect(changes.get_by_role("row", name="W3")).to_contain_text("joints 9 mOhm")
    watched.wrongs.clear()  # the browser says that it was answered 409
    watched.check()
    changes.get_by_role("row", name="W3").get_by_role("button").click()
    expect(changes.get_by_role("row", name="W5")).to_contain_text("runs under the carpet")
    expect(changes.get_by_role("row", name="W3")).to_have_count(0)
    publish_it(second)
    second.wait_for_url("**/circuits/fuel-pump/")

    parts = {part.name: part for part in Circuit.objects.get().revisions.get(number=3).parts.all()}
    assert parts["W4"].remark == "seen on the car"
    assert parts["W5"].remark == "runs under the carpet"


def test_a_circuit_of_four_phases_fits_a_phone(bench: Bench, open_page: Open) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE)
    page = watched.page
    page.goto("/circuits/fuel-pump/")
    page.get_by_role("button", name="Copy it for another vehicle").click()
    expect(page.locator("[data-seen] table")).to_be_visible()
    watched.check()


def test_a_card_on_a_phone_shows_what_is_filled_in_and_every_field_once_it_is_touched(
    bench: Bench, open_page: Open
) -> None:
    watched = open_page(bench.cast.technician, viewport=PHONE, has_touch=True)
    page = watched.page
    publish("power_steering.txt", by=bench.cast.technician)
    page.goto("/circuits/power-steering/")
    page.get_by_role("button", name="Change it in a table").click()
    codes = page.locator(".cells-codes tbody tr")
    condition = codes.filter(has=page.locator('[data-cell="watched"]')).nth(1)
    enabled, phases = (condition.locator(f'[data-cell="{cell}"]') for cell in ("enabled", "phases"))
    expect(enabled).to_have_value("EPS above 30 A")
    expect(enabled).to_be_visible()
    expect(phases).to_be_hidden()
    shut = condition.bounding_box()
    condition.locator('[data-cell="number"]').tap()
    expect(phases).to_be_visible()
    opened = condition.bounding_box()
    phases.fill("lock")
    page.locator('[data-cell="words"][data-section="codes"]').first.tap()

    assert shut is not None
    assert opened is not None
    assert shut["height"] < 0.75 * opened["height"]
    expect(phases).to_have_value("lock")
    watched.check()


#: Whether a middle or a corner of what has the focus can be seen, or something inside it.
SEEN = """() => {
  const here = document.activeElement, box = here.getBoundingClientRect();
  const points = [[box.left + box.width / 2, box.top + box.height / 2],
                  [box.left + 3, box.top + 3], [box.right - 3, box.bottom - 3]];
  const seen = points.some(([x, y]) => {
    const top = document.elementFromPoint(x, y);
    return top && (here.contains(top) || top.contains(here));
  });
  const spared = here.closest(".skip") || here === document.body;
  return seen || spared ? "" : here.outerHTML.slice(0, 120);
}"""


@pytest.mark.slow
@pytest.mark.parametrize("key", ["Tab", "Shift+Tab"])
def test_focus_in_the_editor_is_never_hidden(key: str, bench: Bench, open_page: Open) -> None:
    """WCAG 2.2, 2.4.11, on a phone, where bars lie over the foot of the page."""
    page = open_page(bench.cast.technician, viewport=PHONE).page
    begin(page, "Three lamps that share one ground")
    page.get_by_label("Name, part 2", exact=True).focus()
    hidden = []
    for _ in range(60):
        page.keyboard.press(key)
        hidden.append(page.evaluate(SEEN))

    assert [words for words in hidden if words] == []
