"""What a drawing shows: phases, faults, bands, words."""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from circuits.drawing import BANDS, LOOSE_BAND, draw
from circuits.drawing.plan import plan_of
from circuits.drawing.symbols import CONTACTS
from circuits.engine import Fault, find_suspect
from circuits.sheet import read_text, to_network
from tests.circuits.drawn import drawn

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
PATHS = sorted(LIBRARY.glob("*.txt"))
PUMP = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))
SVG = "{http://www.w3.org/2000/svg}"


def texts_of(drawing):
    return [each.text for each in ET.fromstring(drawing.svg).iter(f"{SVG}text")]


def state_of(drawing):
    assert drawing.state is not None
    return drawing.state


def parts_of(drawing):
    groups = ET.fromstring(drawing.svg).iter(f"{SVG}g")
    return {each.get("data-part"): ET.tostring(each) for each in groups if each.get("data-part")}


def wires_of(drawing):
    paths = ET.fromstring(drawing.svg).iter(f"{SVG}path")
    return {each.get("data-net"): each for each in paths if each.get("data-net")}


def added_ohms(ohms):
    return Fault(suspect=find_suspect(to_network(PUMP), "resistance:C40"), severity=ohms)


#: A motor that is turned by changing its poles must run upwards one way.
REVERSING = ("window_lift", "sunroof", "central_locking")
ONE_WAY = [path for path in PATHS if path.stem not in REVERSING]


@pytest.mark.parametrize("path", ONE_WAY, ids=lambda path: path.stem)
def test_current_runs_down_through_lamps_and_motors(path):
    """Common practice: power at the top, so the arrows of consumers point down."""
    sheet = read_text(path.read_text(encoding="utf-8"))
    flipped = {
        column.part: column.flipped
        for each in plan_of(sheet).cells
        for column in each.columns
        if column.kind in ("lamp", "motor", "fan", "current", "power")
    }
    for phase in sheet.phase_keys:
        state = state_of(draw(sheet, phase=phase))
        for part, is_flipped in flipped.items():
            # A lamp that is fed backwards through a shared ground carries next to nothing.
            amps = state.amps[part]
            assert abs(amps) < 0.1 or (amps > 0) != is_flipped


def test_a_relay_that_has_pulled_in_is_drawn_made():
    at_prime, after = (draw(PUMP, phase=phase) for phase in ("prime", "after"))

    assert state_of(at_prime).made["K3.con"]
    assert not state_of(after).made["K3.con"]
    assert parts_of(at_prime)["K3.con"] != parts_of(after)["K3.con"]
    assert parts_of(at_prime)["F15"] != parts_of(after)["F15"]  # its amps


def test_figures_stand_at_the_places():
    """By hand: 12.40 V, 0.1063 Ohm of feed and 0.0149 of ground, 3.6 A + 0.14 A/V: 11.71 V across
    the pump. With 1.1 Ohm more in the feed 6.79 V are left to it."""
    for fault, volts in ((None, 11.71), (added_ohms(1.1), 6.79)):
        drawing = draw(PUMP, phase="prime", fault=fault)
        state = state_of(drawing)
        drop = state.volts["PP"] - state.volts["PN"]

        assert drop == pytest.approx(volts, abs=0.02)
        assert f"{state.volts['PP']:.2f} V" in texts_of(drawing)


def test_all_phases_and_faults_lie_on_one_another():
    """A slider would make everything jump otherwise."""

    def places(drawing):
        return {net: each.get("d") for net, each in wires_of(drawing).items()}

    drawings = [
        draw(PUMP),
        draw(PUMP, phase="prime"),
        draw(PUMP, phase="prime", fault=added_ohms(1.1)),
    ]

    assert places(drawings[0]) == places(drawings[2])
    assert places(drawings[1]) == places(drawings[2])


def test_a_fault_is_marked_and_darkens_what_lies_behind_it():
    drawing = draw(PUMP, phase="prime", fault=added_ohms(float("inf")))

    assert "d-fault" in parts_of(drawing)["C40"].decode()
    assert "!" in texts_of(drawing)
    assert state_of(drawing).band("C40a").number == 4
    assert state_of(drawing).band("PP").number == 0
    assert "d-band-0" in wires_of(drawing)["PP"].get("class")


def test_no_arrow_where_nothing_flows():
    def arrows(drawing):
        return drawing.svg.count('class="d-arrow"')

    off = draw(
        drawn(
            "B1 battery BP - BN 12.6 V, 11 mOhm\nL lamp BP - x 21 W\n"
            "S switch x - BN 10 mOhm; on: open",
            phases="on on on\nlit on lit",
        ),
        phase="on",
    )
    lit = draw(
        drawn(
            "B1 battery BP - BN 12.6 V, 11 mOhm\nL lamp BP - x 21 W\n"
            "S switch x - BN 10 mOhm; on: open",
            phases="on on on\nlit on lit",
        ),
        phase="lit",
    )

    assert arrows(off) == 0
    assert arrows(lit) == 3


def test_a_sheet_that_cannot_be_solved_yet_is_drawn_all_the_same():
    """While it is being written, values and half of the parts are missing."""
    unfinished = PUMP.model_copy(update={"parts": PUMP.parts[2:5]})

    assert set(parts_of(draw(unfinished))) == {"body", "W1", "F15"}
    assert parts_of(draw(PUMP.model_copy(update={"parts": ()}))) == {}


def test_names_with_marks_of_markup_stay_names():
    sheet = PUMP.model_copy(
        update={"vehicle": PUMP.vehicle.model_copy(update={"title": 'A "b" <c> & d'})}
    )
    title = ET.fromstring(draw(sheet).svg).findtext(f"{SVG}title")

    assert title == 'A "b" <c> & d'


def test_the_same_sheet_gives_the_same_drawing():
    again = read_text((LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8"))

    assert draw(PUMP).svg == draw(again).svg


# ---------------------------------------------------------------------------------- colours

#: Sight without one kind of cone, in linear RGB: Machado, Oliveira and Fernandes, "A
#: Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE TVCG 15 (2009),
#: severity 1.0; values from memory.
SIGHTS = {
    "all cones": np.eye(3),
    "no long": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no middle": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no short": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
PAPER = "#fffdf8"


def linear(colour):
    """IEC 61966-2-1 (sRGB), its transfer function."""
    share = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    """CIE 1976 L*a*b* with white D65 (ISO/CIE 11664-4)."""
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    ratio = np.clip(np.array(to_xyz) @ rgb, 0, None) / (0.9505, 1.0, 1.089)
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def bands_in_the_dark():
    """Return the colours that the page gives the bands in the dark."""
    css = (LIBRARY.parent / "static" / "circuits" / "drawing.css").read_text(encoding="utf-8")
    return [
        colour
        for band in BANDS
        for colour in re.findall(rf"\.d-band-{band.number}\.d-joint {{ fill: (#\w+)", css)
    ]


@pytest.mark.parametrize("sight", SIGHTS)
@pytest.mark.parametrize("is_dark", [False, True])
def test_neighbouring_bands_are_told_apart_with_any_cones(sight, is_dark):
    """A difference of 10 in CIE 1976 is plain to see side by side (common practice)."""
    colours = bands_in_the_dark() if is_dark else [band.colour for band in BANDS]
    seen = [lab(np.array(SIGHTS[sight]) @ linear(colour)) for colour in colours]

    for one, other in pairwise(seen):
        assert np.linalg.norm(one - other) > 10


def test_every_band_stands_out_from_the_paper():
    """WCAG 2.2, 1.4.11: graphics that carry meaning have a contrast of 3 to 1."""

    def luminance(colour):
        return float(np.dot((0.2126, 0.7152, 0.0722), linear(colour)))

    for band in (*BANDS, LOOSE_BAND):
        assert (luminance(PAPER) + 0.05) / (luminance(band.colour) + 0.05) >= 3


def test_no_two_bands_have_the_same_dashes_and_width():
    """Colour is never the only carrier: in grey, or without a cone, the line still says it."""
    looks = {(band.dashes, band.width) for band in (*BANDS, LOOSE_BAND)}

    assert len(looks) == len(BANDS) + 1


def test_contacts_are_drawn_by_the_same_kinds_that_can_open():
    assert {"switch", "driver", "contact", "rule"} == CONTACTS


def test_nothing_is_written_without_a_sign():
    """The leisure battery's minus post lies a few millivolts below 0 V while its load runs."""
    sheet = read_text((LIBRARY / "split_charge.txt").read_text(encoding="utf-8"))
    drawings = [draw(sheet, phase=phase) for phase in sheet.phase_keys]
    below = [
        volts
        for each in drawings
        for volts in state_of(each).volts.values()
        if volts is not None and -0.005 < volts < 0
    ]

    assert below
    for each in drawings:
        assert "−0.00 V" not in texts_of(each)
