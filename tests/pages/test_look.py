"""How pages are made: readable colours, no script or style in the page, nothing from outside."""

import re
from itertools import product
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TOKENS = (ROOT / "api/static/copperlog/tokens.css").read_text()
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
STATIC = [
    path
    for app in ("api", "cases", "circuits")
    for path in sorted((ROOT / app / "static").rglob("*"))
    if path.suffix in (".css", ".js", ".svg")
]

#: Each ink with the grounds it stands on.
TEXT = [
    *product(
        ("ink", "ink-soft", "copper", "blue", "good", "bad", "unsure", "held"),
        ("paper", "sheet", "tint"),
    ),
    *(("ink", f"{tone}-tint") for tone in ("copper", "blue", "good", "bad", "unsure", "held")),
    *((tone, f"{tone}-tint") for tone in ("copper", "blue", "good", "bad", "unsure", "held")),
    ("ink-soft", "copper-tint"),
    ("on-copper", "copper"),
]
EDGES = [*product(("line-strong", "copper-bright"), ("paper", "sheet"))]


def _colours(scheme: str) -> dict[str, str]:
    light, dark = TOKENS.split("@media screen and (prefers-color-scheme: dark)")
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", light))
    if scheme == "dark":
        found |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", dark))
    return found


def _luminance(colour: str) -> float:
    """Relative luminance, as WCAG 2.1 defines it (W3C Recommendation, section 8)."""

    def linear(channel: int) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(int(colour[at : at + 2], 16)) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, other: str) -> float:
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_worked_out_as_the_recommendation_says() -> None:
    """Black on white is 21 to 1, #777777 on white 4.48 to 1: WCAG 2.1 and its working group's
    failure F83."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    assert _contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_its_ground(scheme: str) -> None:
    """WCAG 2.1, 1.4.3 (AA): 4.5 to 1 for text; 1.4.11: 3 to 1 for edges of fields and focus."""
    colours = _colours(scheme)
    pairs = [(ink, ground, 4.5) for ink, ground in TEXT]
    pairs += [(edge, ground, 3.0) for edge, ground in EDGES]
    faint = {
        f"{ink} on {ground}": round(_contrast(colours[ink], colours[ground]), 2)
        for ink, ground, least in pairs
        if _contrast(colours[ink], colours[ground]) < least
    }

    assert faint == {}


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_holds_no_script_no_style_and_no_handler(path: Path) -> None:
    """The content security policy would refuse them, and the page would silently not work."""
    html = path.read_text()

    assert not re.search(r"<script(?![^>]*\bsrc=)", html)
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:|hx-on|hx-vals=.js:", html)


@pytest.mark.parametrize("path", [*TEMPLATES, *STATIC], ids=lambda path: path.name)
def test_nothing_is_loaded_from_outside(path: Path) -> None:
    loads = re.findall(
        r"(?:src|href|action|url\(|@import|from)\s*[=(]?\s*[\"']?(\w+:)?//[^\s\"')]+",
        path.read_text(),
    )

    assert loads == []
