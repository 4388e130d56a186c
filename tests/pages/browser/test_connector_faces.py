"""A connector's face on the circuit page: one side at a time, turned over by a button."""

from pathlib import Path

from playwright.sync_api import expect

from circuits.services import import_text
from tests.cast import MONDAY
from tests.pages.browser.conftest import PHONE, Bench, Open

PUMP = Path(__file__).parents[3] / "circuits" / "library" / "fuel_pump.txt"
FACE = "X12  wire  2x3  plug at the relay  | 1 K85, 2 -, 3 K87, 4 K30, -, 5 IG"


def test_a_face_is_turned_over_and_read_as_a_list(bench: Bench, open_page: Open) -> None:
    text = PUMP.read_text(encoding="utf-8").replace("[codes]", f"[faces]\n{FACE}\n\n[codes]")
    text = text.replace("fuel-pump", "pump-plug")
    import_text(text, note="With its plug.", by=bench.cast.technician, at=MONDAY)
    watched = open_page(bench.cast.technician, viewport=PHONE, color_scheme="dark")
    page = watched.page
    page.goto("/circuits/pump-plug/#faces")
    wire, mating = (page.locator(f'[data-side="{side} side"]') for side in ("wire", "mating"))
    expect(wire).to_be_visible()
    expect(mating).to_be_hidden()
    page.get_by_role("button", name="Turn it over: see the mating side").press("Enter")
    expect(wire).to_be_hidden()
    expect(mating).to_be_visible()
    page.get_by_text("The cavities as a list").click()
    expect(page.get_by_text("2: no wire")).to_be_visible()
    watched.check()
