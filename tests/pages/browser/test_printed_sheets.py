"""Test sheets on paper: one A4 page each, with boxes to write in."""

import re

from tests.pages.browser.conftest import Bench, Open


def _printed_pages(open_page: Open, bench: Bench, address: str) -> int:
    page = open_page(bench.cast.technician).page
    page.goto(address)
    paper = page.pdf(prefer_css_page_size=True)
    return len(re.findall(rb"/Type\s*/Page[^s]", paper))


def test_a_test_sheet_and_a_bench_sheet_are_one_page_each(bench: Bench, open_page: Open) -> None:
    sheets = "/circuits/fuel-pump/test-sheet/"

    assert _printed_pages(open_page, bench, f"{sheets}?part=PUMP") == 1
    assert _printed_pages(open_page, bench, f"{sheets}?part=K3") == 1
    assert _printed_pages(open_page, bench, f"{sheets}?part=K3&bench=1") == 1


def test_the_boxes_to_write_in_are_on_paper_and_not_on_the_screen(
    bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    page.goto("/circuits/fuel-pump/test-sheet/?part=PUMP")
    box = page.locator("td .blank").first

    assert not box.is_visible()
    page.emulate_media(media="print")
    assert box.is_visible()


def test_tables_stay_tables_on_paper_and_pins_are_there_to_be_ticked(
    bench: Bench, open_page: Open
) -> None:
    """A4 between its margins is as narrow as a tablet: no card of a phone may come out of it."""
    page = open_page(bench.cast.technician, viewport={"width": 718, "height": 1000}).page
    page.goto("/circuits/fuel-pump/")
    page.emulate_media(media="print")

    for section in ("#predicted", "#parts", "#connections"):
        table = page.locator(f"{section} table").first
        assert table.is_visible()
        assert table.evaluate("(each) => getComputedStyle(each).display") == "table"


def test_cautions_are_dark_on_light_on_paper_though_the_screen_is_dark(
    bench: Bench, open_page: Open
) -> None:
    """Told by relative luminance, as WCAG 2.1 defines it: the ground is light, the words dark."""
    page = open_page(bench.cast.technician, color_scheme="dark").page
    page.emulate_media(media="print", color_scheme="dark")
    page.goto("/circuits/fuel-pump/test-sheet/?part=PUMP")
    shown = page.evaluate(
        """() => [...document.querySelectorAll('.cautions, .step-caution')].map((each) => {
             const grey = (colour) => {
               const [r, g, b, a = 1] = colour.match(/[\\d.]+/g).map(Number);
               const linear = (c) => c / 255 <= 0.03928 ? c / 255 / 12.92
                                                        : ((c / 255 + 0.055) / 1.055) ** 2.4;
               return a ? 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b) : 1; };
             const style = getComputedStyle(each);
             return [grey(style.backgroundColor), grey(style.color)]; })"""
    )

    assert shown
    for ground, words in shown:
        assert (ground + 0.05) / (words + 0.05) >= 4.5
