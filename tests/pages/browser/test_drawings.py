"""Words of drawings as a real browser sets them: none on another, none on a wire."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from circuits.drawing import draw
from circuits.sheet import read_text

CIRCUITS = Path(__file__).parents[3] / "circuits"
SHEETS = sorted([*CIRCUITS.glob("library/*.txt"), *CIRCUITS.glob("editor/starts/*.txt")])
#: Boxes of letters reach above and below what is inked; that much is let off.
INK_SHARE = 0.2
WORDS_ON_SOMETHING = """(share) => {
  const boxes = [...document.querySelectorAll("svg text")].map((each) => {
    const box = each.getBoundingClientRect();
    const off = box.height * share;
    return { element: each, words: each.textContent, left: box.left + 0.5, right: box.right - 0.5,
             top: box.top + off, bottom: box.bottom - off };
  });
  const meet = (one, other) => one.left < other.right && other.left < one.right
    && one.top < other.bottom && other.top < one.bottom;
  const found = [];
  boxes.forEach((one, number) => boxes.slice(number + 1).forEach((other) => {
    if (meet(one, other)) { found.push(`${one.words} / ${other.words}`); }
  }));
  document.querySelectorAll("g.d-part > g:first-child").forEach((each) => {
    const box = each.getBoundingClientRect();
    const symbol = { left: box.left, right: box.right, top: box.top, bottom: box.bottom };
    boxes.forEach((words) => {
      if (meet(words, symbol) && !each.contains(words.element)) {
        found.push(`${words.words} on the symbol of ${each.parentElement.dataset.part}`);
      }
    });
  });
  const frame = document.querySelector("svg").getBoundingClientRect();
  const origin = document.querySelector("svg > g").getCTM();
  document.querySelectorAll("path.d-wire, path.d-link").forEach((wire) => {
    const reach = wire.getAttribute("d").replace(/ ([\\d.-]+)H([\\d.-]+)/g, " $1L$2 $1");
    for (const [, x1, y1, x2, y2] of reach
      .matchAll(/M([\\d.-]+) ([\\d.-]+)L([\\d.-]+) ([\\d.-]+)/g)) {
      const line = { left: Math.min(x1, x2), right: Math.max(x1, x2),
                     top: Math.min(y1, y2), bottom: Math.max(y1, y2) };
      ["left", "right"].forEach((side) => { line[side] += origin.e + frame.left; });
      ["top", "bottom"].forEach((side) => { line[side] += origin.f + frame.top; });
      boxes.forEach((box) => {
        if (box.left < line.right + 0.1 && line.left - 0.1 < box.right
            && box.top < line.bottom + 0.1 && line.top - 0.1 < box.bottom) {
          found.push(`${box.words} on ${wire.dataset.net ?? "a dashed line"}`);
        }
      });
    }
  });
  return found;
}"""


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_no_word_of_a_drawing_lies_on_another_or_on_a_wire(chromium: Browser, path: Path) -> None:
    """At rest and in every phase; the dashed line from a winding to its contacts counts too."""
    sheet = read_text(path.read_text(encoding="utf-8"))
    page = chromium.new_page()
    found = []
    for phase in (None, *sheet.phase_keys):
        page.set_content(draw(sheet, phase=phase).svg)
        found += page.evaluate(WORDS_ON_SOMETHING, INK_SHARE)
    page.close()

    assert found == []
