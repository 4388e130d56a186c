"""What a drawing says is joined, read from its lines alone, as an eye would."""

from circuits.drawing.packing import Layout

Point = tuple[int, int]


def joined_pins(layout: Layout) -> list[set[tuple[str, str, Point]]]:
    """Return groups of pins that wires join: a wire's end on another wire joins, a crossing does
    not. Each pin is given with its part, its net and its point; nets are not looked at.
    """
    lines = [(part.start, part.end) for part in layout.segments]
    pins = [
        (
            each.cell.key,
            pin.net,
            (each.x + pin.x, each.y if pin.is_top else each.y + each.cell.height),
        )
        for each in layout.placed
        for pin in each.cell.pins
    ]
    leader = list(range(len(lines) + len(pins)))

    def led(number):
        while leader[number] != number:
            number = leader[number]
        return number

    points = [[*line] for line in lines] + [[point] for _, _, point in pins]
    for one, ends in enumerate(points):
        for other, line in enumerate(lines):
            if any(_is_on(point, line) for point in ends):
                leader[led(one)] = led(other)
    groups: dict[int, set[tuple[str, str, Point]]] = {}
    for number, pin in enumerate(pins, start=len(lines)):
        groups.setdefault(led(number), set()).add(pin)
    return list(groups.values())


def wanted_pins(layout: Layout) -> list[set[tuple[str, str, Point]]]:
    """Return the same groups as the circuit has them: by the names of the connections."""
    groups: dict[str, set[tuple[str, str, Point]]] = {}
    for each in layout.placed:
        for pin in each.cell.pins:
            y = each.y if pin.is_top else each.y + each.cell.height
            groups.setdefault(pin.net, set()).add((each.cell.key, pin.net, (each.x + pin.x, y)))
    return list(groups.values())


def _is_on(point, line):
    (left, top), (right, bottom) = line
    return left <= point[0] <= right and top <= point[1] <= bottom
