"""Readings as a fault gets worse: by hand, and as a picture that ears and colour-blind eyes get."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from circuits.engine import (
    Fault,
    FaultKind,
    Network,
    Suspect,
    find_suspect,
    predict,
    suspects,
)
from circuits.predicting.curve_picture import STYLE, Here, Panel, draw_curves
from circuits.predicting.curves import Curves, severity_curves
from circuits.predicting.severities import SeverityScale
from circuits.sheet import Sheet, engine_places, read_text, to_network
from tests.cast import LIBRARY
from tests.engine.relay_lamp import LAMP, RELAY

SVG = "{http://www.w3.org/2000/svg}"


def library(name: str) -> tuple[Sheet, Network]:
    sheet = read_text((LIBRARY / name).read_text(encoding="utf-8"))
    return sheet, to_network(sheet)


def picture_of(name: str, fault: str, place: str, severity: float | None = None) -> str:
    sheet, network = library(name)
    suspect = find_suspect(network, fault)
    places = [each for each in engine_places(sheet) if each.key == place]
    curves = severity_curves(network, places, suspect)
    here = None
    if severity is not None:
        found = predict(network, places, fault=Fault(suspect=suspect, severity=severity))
        readings = {phase: prediction for (phase, _), prediction in found.items()}
        here = Here(severity=severity, readings=readings)
    entry = next(each for each in sheet.places if each.key == place)
    panel = Panel(place=entry, phases=sheet.phases, curves=curves.at(place), here=here)
    return draw_curves(curves.scale, [panel])


def texts(svg: str) -> str:
    return "\n".join(element.text or "" for element in ElementTree.fromstring(svg).iter())


# ------------------------------------------------------------------------------------ curves


def curves_of(fault: str) -> Curves:
    return severity_curves(RELAY, [LAMP], find_suspect(RELAY, fault))


def test_a_lamp_behind_growing_ohms_follows_the_divider_to_the_open() -> None:
    """12.6 V over 0.001 + R + 0.01 Ohm of feed and 6 Ohm of lamp, the winding's 90 Ohm aside."""
    (curve,) = curves_of("resistance:K1.con").curves
    finite = curve.severities[:-1]
    expected = 12.6 * 6.0 / (6.011 + finite)

    assert len(finite) > 60
    assert curve.values[:-1] == pytest.approx(expected, rel=2e-4)
    assert curve.severities[-1] == np.inf
    assert curve.values[-1] == pytest.approx(0.0, abs=1e-6)
    assert curve.turns == ()


def test_the_severity_at_which_a_relay_lets_go_is_marked() -> None:
    """7.2 V / 90 Ohm = 80 mA pull it in; 12.598 V / 80 mA less the 90.05 Ohm there are 67.4."""
    (curve,) = curves_of("resistance:W1").curves
    (turn,) = curve.turns

    assert turn.words == "K1.con opens"
    assert turn.severity == pytest.approx(67.4, rel=0.005)
    assert curve.departs


def test_a_short_runs_from_endless_ohms_to_none() -> None:
    (curve,) = curves_of("ground-short:out").curves

    assert (np.diff(curve.severities) < 0).all()
    assert curve.severities[-1] == 0.0
    assert curve.values[0] > 12.5
    assert curve.values[-1] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(
    ("kind", "most", "healthy", "end"),
    [
        (FaultKind.RESISTANCE, np.inf, 0.0, "open"),
        (FaultKind.GROUND_SHORT, np.inf, np.inf, "short"),
        (FaultKind.DRAWS_MORE, 14.0, 0.0, ""),
    ],
)
def test_every_stop_of_a_slider_is_a_severity_and_leads_back_to_its_stop(
    kind: FaultKind, most: float, healthy: float, end: str
) -> None:
    scale = SeverityScale(Suspect(kind=kind, target="X", target_words="part", most=most))
    numbers = scale.last_stop - (1 if end else 0)
    severities = np.geomspace(scale.mildest, scale.worst, numbers).tolist()
    stops = [scale.stop(severity) for severity in (*severities, scale.end)[: scale.last_stop]]

    assert scale.stop(healthy) == 0
    assert stops == list(range(1, scale.last_stop + 1))
    assert scale.end_word == end


def test_every_kind_of_fault_has_a_scale_with_its_words_at_both_ends() -> None:
    """A generator that lost a phase has less than a decade, a battery the wrong way round none."""
    _, network = library("power_steering.txt")
    by_kind = {suspect.kind: SeverityScale(suspect) for suspect in suspects(network)}
    phase, reverse = by_kind[FaultKind.LOST_PHASE], by_kind[FaultKind.REVERSED]

    assert phase.graded
    assert phase.stop(phase.mildest) == 1
    assert not reverse.graded
    assert (reverse.stop(reverse.healthy), reverse.stop(reverse.end)) == (0, reverse.last_stop)
    assert reverse.middles == ()
    for scale in by_kind.values():
        assert scale.words(scale.healthy) == "healthy"
        assert all(scale.suspect.can_be(severity) for severity in (*scale.middles, scale.end))


@pytest.mark.parametrize("fault", ["lost-phase:G1", "limited:G1", "discharged:B1"])
def test_shares_and_short_scales_are_drawn_like_ohms(fault: str) -> None:
    svg = picture_of("power_steering.txt", fault, "TP1")

    assert "nan" not in svg
    assert "healthy" in texts(svg)


# ----------------------------------------------------------------------------------- picture


def test_the_picture_says_in_words_what_its_lines_show() -> None:
    """6.79 V at the pump with 1.1 Ohm in its feed: the reference circuit, solved apart from us."""
    svg = picture_of("fuel_pump.txt", "resistance:C40", "TP2", 1.1)
    said = texts(svg)
    root = ElementTree.fromstring(svg)

    assert root.get("role") == "img"
    title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert words is not None
    assert root.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"
    assert "C40: connector with high resistance or open" in (title.text or "")
    assert "ignition on, prime (first 2 s): 6.79 V, healthy 11.71 V, open" in (words.text or "")
    for shown in ("1.10 Ohm", "healthy", "open", "PUMP stands still", "TP2", "15"):
        assert shown in said


def test_where_it_chatters_the_picture_shows_a_band_and_says_from_where() -> None:
    svg = picture_of("starting_relay.txt", "resistance:B1", "TP1")
    root = ElementTree.fromstring(svg)
    bands = [each for each in root.iter(f"{SVG}polygon") if "chatter" in each.get("class", "")]

    assert bands
    assert "begins to chatter (cranking" in texts(svg)
    assert "Dense: chatters." in texts(svg).replace("\n", " ")


def test_what_a_name_brings_along_cannot_break_out_of_the_picture() -> None:
    curves = curves_of("resistance:W1")
    sheet, _ = library("fuel_pump.txt")
    place = sheet.places[0].model_copy(update={"key": "lamp", "label": "</svg><script>x</script>"})
    (curve,) = curves.curves
    phase = sheet.phases[0].model_copy(update={"key": curve.phase})
    svg = draw_curves(curves.scale, [Panel(place=place, phases=(phase,), curves=(curve,))])

    assert "<script" not in svg
    assert "</svg><script>x</script>" in texts(svg).replace("\n", "")


# ------------------------------------------------------------------------------------ colours

#: Machado, Oliveira and Fernandes, IEEE Trans. Visualization and Computer Graphics 15 (2009),
#: matrices for severity 1.0, on linear RGB, as widely reprinted; tritan from memory.
BLINDNESS = {
    "none": np.eye(3),
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
#: Linear sRGB to CIE XYZ (IEC 61966-2-1).
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# Far more than the 2.3 or so at which two hues can just be told (CIE 1976; common practice).
LEAST_APART = 25.0


def palette(scheme: str) -> np.ndarray:
    light, dark = STYLE.read_text(encoding="utf-8").split("(prefers-color-scheme: dark)")
    found = re.findall(r"--curve-\d: #([0-9a-f]{6})", dark if scheme == "dark" else light)
    coded = np.array([[int(each[at : at + 2], 16) / 255 for at in (0, 2, 4)] for each in found])
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab(linear: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* with white D65 (ISO/CIE 11664-4)."""
    ratio = np.clip(linear, 0, 1) @ TO_XYZ.T / np.array([0.9505, 1.0, 1.089])
    bent = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16 / 116)
    x, y, z = bent.T
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("blindness", BLINDNESS)
def test_the_hues_of_the_lines_stay_apart_for_every_eye(scheme: str, blindness: str) -> None:
    seen = lab(palette(scheme) @ BLINDNESS[blindness].T)
    apart = np.linalg.norm(seen[:, None] - seen[None], axis=2)

    assert len(seen) == 5
    assert apart[np.triu_indices(5, 1)].min() > LEAST_APART


def test_every_line_has_a_dash_of_its_own() -> None:
    dashes = re.findall(
        r"\.s\d \{ stroke: [^;]+;(?: stroke-dasharray: ([^;]+);)? \}", STYLE.read_text()
    )

    assert len(dashes) == 5
    assert len(set(dashes)) == 5
