"""The ways of a pin in a drawing: stripes without a gap, read from the lines alone."""

import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import pytest

from circuits.drawing import draw
from circuits.paths import pin_ways
from circuits.sheet import read_text, to_network
from tests.circuits.drawn import drawn

LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
PATHS = sorted(LIBRARY.glob("*.txt"))
SVG = "{http://www.w3.org/2000/svg}"


def stripes_of(svg):
    """Return the lines of all stripes."""
    return [
        line
        for path in ET.fromstring(svg).iter(f"{SVG}path")
        if path.get("class", "").startswith("d-way-")
        for line in lines_of(path.get("d"))
    ]


def lines_of(reach):
    """Read `M x y L x y ...` and `M x y V y`, as SVG 1.1 writes them (section 8.3)."""
    for row in reach.split("M")[1:]:
        points: list[tuple[float, ...]] = []
        for command, numbers in re.findall(r"([LV]?)([\d.\- ]+)", row):
            given = [float(each) for each in numbers.split()]
            points.append((points[-1][0], given[0]) if command == "V" else tuple(given))
        yield from pairwise(points)


def pieces_of(lines, alike=()):
    """Return how many pieces lines make: the end of one that lies on another joins them.

    So do points that are `alike`, given in sets: where one connection is drawn more than once.
    """
    leader = list(range(len(lines)))

    def led(number):
        while leader[number] != number:
            number = leader[number]
        return number

    for one, ends in enumerate(lines):
        for other, line in enumerate(lines):
            if any(is_on(point, line) for point in ends):
                leader[led(one)] = led(other)
    for points in alike:
        there = [n for n, line in enumerate(lines) if any(is_on(point, line) for point in points)]
        for one, other in pairwise(there):
            leader[led(one)] = led(other)
    return len({led(number) for number in range(len(lines))})


def is_on(point, line):
    (left, right), (top, bottom) = (sorted(pair) for pair in zip(*line, strict=True))
    return left <= point[0] <= right and top <= point[1] <= bottom


def ground_signs_of(svg):
    """Return where ground signs hang, by connection: groups that are moved there in its group."""
    signs = defaultdict(set)
    for net in ET.fromstring(svg).iterfind(f".//{SVG}g[@class='d-net']"):
        for sign in net.iterfind(f"{SVG}g[@transform]"):
            x, y = re.findall(r"[\d.-]+", sign.get("transform", ""))
            signs[net.get("data-net")].add((float(x), float(y)))
    return signs


def marks_of(svg):
    """Return where the dots and ground signs of each connection are."""
    marks = ground_signs_of(svg)
    for net in ET.fromstring(svg).iterfind(f".//{SVG}g[@class='d-net']"):
        for dot in net.iterfind(f"{SVG}circle"):
            marks[net.get("data-net")].add((float(dot.get("cx", "")), float(dot.get("cy", ""))))
    return marks


def marked_drawing(sheet, pin, phase):
    ways = pin_ways(sheet, to_network(sheet), pin, phase)
    return draw(sheet, phase=phase, marked=ways.marked)


#: battery --F1--+--[S1]--a--[lamp L1]--+--W9--BN     the ways of a: F1 S1 and L1 W9, not F2 and L2
#:               +--F2---b--[lamp L2]---+
LADDER = """
B1 battery BP - BN 12.6 V, 11 mOhm
F1 fuse BP - f 15 A
S1 switch f - a 10 mOhm
F2 fuse f - b 5 A
L1 lamp a - g 21 W
L2 lamp b - g 21 W
W9 wire g - BN 1.5 mm2, 1 m
"""


def test_the_ways_of_a_pin_lead_from_one_sign_of_zero_volts_to_the_other_without_a_gap():
    """A circuit is a ring; where 0 V is drawn as two ground signs, they are its two ends."""
    svg = marked_drawing(drawn(LADDER), "a", "on").svg
    stripes = [line for line in stripes_of(svg) if line[0] != line[1]]
    loose = {
        point
        for line in stripes
        for point in line
        if not any(is_on(point, other) for other in stripes if other != line)
    }

    assert pieces_of(stripes) == 1
    assert loose == {point for signs in ground_signs_of(svg).values() for point in signs}


def test_what_only_hangs_on_a_way_has_no_stripe():
    drawing = marked_drawing(drawn(LADDER), "a", "on")
    stripes = stripes_of(drawing.svg)
    branch = ET.fromstring(drawing.svg).find(f".//{SVG}path[@data-net='b']")
    assert branch is not None

    for line in lines_of(branch.get("d")):
        assert not any(is_on(point, stripe) for point in line for stripe in stripes)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_both_ways_lead_from_the_dot_of_a_pin_to_their_ends_without_a_gap(path):
    """Between two signs of one connection, as for grounds, is nothing but itself."""
    sheet = read_text(path.read_text(encoding="utf-8"))
    network = to_network(sheet)
    for pin in {place.red for place in sheet.places if place.red}:
        ways = pin_ways(sheet, network, pin, sheet.phase_keys[-1])
        svg = draw(sheet, marked=ways.marked).svg
        stripes, marks = stripes_of(svg), marks_of(svg)

        for end in (pin, *(ways.back.nodes[-1:] if ways.back else ())):
            assert any(is_on(mark, line) for mark in marks[end] for line in stripes), (pin, end)
        assert pieces_of(stripes, marks.values()) == 1, pin


#: battery --F1--A--[track of TPS]--G--Wg--BN, its wiper SIG--Ws--IN--[input]--BN
WIPER = """
B1 battery BP - BN 12.6 V, 11 mOhm
F1 fuse BP - A 10 A
TPS potentiometer A - G - SIG 4.7 kOhm, position 50 %
Wg wire G - BN 1 mm2, 1 m
Ws wire SIG - IN 0.5 mm2, 1 m
IN1 input IN - BN 220 kOhm
"""


def ways_in(svg):
    """Return the lines of the stripes, those to the supply and those back to 0 V."""
    found: dict[str, list[tuple[tuple[float, ...], ...]]] = {"supply": [], "back": []}
    for path in ET.fromstring(svg).iter(f"{SVG}path"):
        way = path.get("class", "").removeprefix("d-way-")
        if way in found:
            found[way] += [line for line in lines_of(path.get("d")) if line[0] != line[1]]
    return found


@pytest.mark.parametrize("pin", ["SIG", "IN"])
def test_the_ways_of_a_wiper_part_at_the_track_one_up_and_one_down(pin):
    ways = ways_in(marked_drawing(drawn(WIPER), pin, "on").svg)
    ups, downs = ([y for line in lines for _, y in line] for lines in ways.values())
    corners = {
        way: [line for line in lines if line[0][1] == line[1][1] and line[0][0] != line[1][0]]
        for way, lines in ways.items()
    }
    tip = max(y for line in corners["supply"] for _, y in line)

    assert pieces_of([*ways["supply"], *ways["back"]]) == 1
    assert min(ups) < tip < max(downs)
    at_track = {x for line in corners["supply"] for x, y in line if y == tip}
    track = max(at_track)
    assert all(y <= tip for line in ways["supply"] for x, y in line if x == track)
    assert all(y >= tip for line in ways["back"] for x, y in line if x == track)


def test_the_ways_of_the_track_itself_leave_its_wiper_alone():
    sheet = drawn(WIPER)
    drawing = marked_drawing(sheet, "A", "on").svg
    wiper = ET.fromstring(drawing).findall(f".//{SVG}path[@data-net='SIG']")
    names = [leg.part for leg in pin_ways(sheet, to_network(sheet), "A", "on").marked.legs]
    lines = [line for way in ways_in(drawing).values() for line in way]

    assert sorted(names) == ["B1", "F1", "TPS", "Wg"]
    assert pieces_of(lines) == 1
    assert wiper
    for path in wiper:
        for line in lines_of(path.get("d")):
            assert not any(is_on(point, stripe) for point in line for stripe in lines)
