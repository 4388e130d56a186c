"""Drawings on paper: one A4 page each, with words that can be read at arm's length."""

import re
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, ViewportSize

from tests.cast import publish
from tests.pages.browser.conftest import Bench, Open

LIBRARY = Path(__file__).parents[3] / "circuits" / "library"
#: What an A4 page (ISO 216: 210 mm by 297 mm) leaves inside margins of 10 mm, at the 96 px to the
#: inch of CSS.
UPRIGHT, FLAT = ViewportSize(width=718, height=1047), ViewportSize(width=1047, height=718)
PX_PER_MM = 96 / 25.4
#: The height of a small x below which words on food may not be printed where there is little room:
#: Regulation (EU) No 1169/2011, article 13, paragraph 3. Drawings have no law of their own for it.
LEAST_X_MM = 0.9
#: Height of a small x as a share of the type size: 1120 of 2048 units in the file of DejaVu Sans.
X_SHARE = 0.547

MEASURED = """() => {
  const drawing = document.querySelector(".paper .schematic");
  const scale = drawing.getScreenCTM().a;
  const sizes = [...drawing.querySelectorAll("text")]
    .map((each) => each.getAttribute("font-size") * scale);
  const box = drawing.getBoundingClientRect();
  return { smallest: Math.min(...sizes), left: box.left, right: box.right,
           bottom: box.bottom };
}"""


def _pages(page: Page) -> int:
    return len(_papers(page))


def _papers(page: Page) -> list[str]:
    """Return of each printed page which way it lies (ISO 32000-1, 7.7.3.3: its MediaBox)."""
    paper = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", paper)
    assert len(boxes) == len(re.findall(rb"/Type\s*/Page[^s]", paper))
    return ["flat" if float(width) > float(height) else "upright" for width, height in boxes]


def _on_paper(page: Page) -> dict[str, Any]:
    """Return how the drawing lies on its page: sizes of letters and edges [px]."""
    is_flat = page.locator(".paper").first.evaluate("(each) => each.matches('.flat')")
    page.set_viewport_size(FLAT if is_flat else UPRIGHT)
    page.emulate_media(media="print")
    found = {**page.evaluate(MEASURED), "sheet": FLAT if is_flat else UPRIGHT}
    found["way"] = "flat" if is_flat else "upright"
    page.emulate_media(media="null")
    return found


def test_every_drawing_of_the_library_is_one_page_that_can_be_read(
    bench: Bench, open_page: Open
) -> None:
    page = open_page(bench.cast.technician).page
    for path in sorted(LIBRARY.glob("*.txt")):
        if path.stem != "fuel_pump":
            publish(path.name, by=bench.cast.technician)
        page.goto(f"/circuits/{path.stem.replace('_', '-')}/drawing/")
        lies = _on_paper(page)

        assert _papers(page) == [lies["way"]], path.stem
        assert lies["smallest"] * X_SHARE / PX_PER_MM >= LEAST_X_MM, path.stem
        assert lies["left"] >= 0, path.stem
        assert lies["right"] <= lies["sheet"]["width"], path.stem
        assert lies["bottom"] <= lies["sheet"]["height"], path.stem


def test_a_fault_and_healthy_are_a_page_each(bench: Bench, open_page: Open) -> None:
    page = open_page(bench.cast.technician).page
    page.goto("/circuits/fuel-pump/drawing/?phase=prime&fault=resistance:C40&severity=1.1")

    assert _pages(page) == 2


def test_a_walk_is_a_page_for_each_step(bench: Bench, open_page: Open) -> None:
    page = open_page(bench.cast.technician).page
    page.goto("/circuits/fuel-pump/walks/1/")

    assert page.locator("[data-step]").count() == 3
    assert _pages(page) == 3


def test_the_page_of_a_circuit_begins_with_its_drawing_on_one_page(
    bench: Bench, open_page: Open
) -> None:
    """One drawing that lies on its side, one that stands upright: title and drawing together."""
    page = open_page(bench.cast.technician).page
    publish("headlamps.txt", by=bench.cast.technician)
    for key, sheet in (("fuel-pump", UPRIGHT), ("headlamps", FLAT)):
        page.goto(f"/circuits/{key}/")
        lies = _on_paper(page)

        assert lies["sheet"] == sheet, key
        assert _papers(page)[0] == lies["way"], key
        assert lies["bottom"] <= sheet["height"], key
        assert lies["right"] <= sheet["width"], key
