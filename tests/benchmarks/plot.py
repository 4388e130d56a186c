"""A plot of cost against size with two logarithmic axes, as SVG text."""

import math
from collections.abc import Mapping, Sequence

WIDTH, HEIGHT = 720, 440
LEFT, TOP, RIGHT, BOTTOM = 70, 20, 220, 50
COLOURS = ("#b3541e", "#1f5f8b", "#3c7a3c", "#7a4b8c", "#8a6d00")

Curves = Mapping[str, Sequence[tuple[float, float]]]


def log_log_svg(curves: Curves, across: str, up: str) -> str:
    """Return curves, each with its points, as a drawing with decades marked on both axes."""
    points = [point for curve in curves.values() for point in curve]
    x_low, x_high = _decades([x for x, _ in points])
    y_low, y_high = _decades([y for _, y in points])

    def place(x: float, y: float) -> tuple[float, float]:
        part_x = (math.log10(x) - x_low) / (x_high - x_low)
        part_y = (math.log10(y) - y_low) / (y_high - y_low)
        return LEFT + part_x * (WIDTH - LEFT - RIGHT), HEIGHT - BOTTOM - part_y * (
            HEIGHT - TOP - BOTTOM
        )

    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        'font-family="sans-serif" font-size="12">',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
    ]
    for decade in range(x_low, x_high + 1):
        x, y = place(10.0**decade, 10.0**y_low)
        lines.append(f'<path d="M{x:.1f} {TOP}V{y:.1f}" stroke="#ccc"/>')
        lines.append(f'<text x="{x:.1f}" y="{y + 18:.1f}" text-anchor="middle">{10**decade}</text>')
    for decade in range(y_low, y_high + 1):
        x, y = place(10.0**x_low, 10.0**decade)
        lines.append(f'<path d="M{x:.1f} {y:.1f}H{WIDTH - RIGHT}" stroke="#ccc"/>')
        lines.append(
            f'<text x="{x - 8:.1f}" y="{y + 4:.1f}" text-anchor="end">{10.0**decade:g}</text>'
        )
    for number, (name, curve) in enumerate(curves.items()):
        colour = COLOURS[number % len(COLOURS)]
        at = [place(x, y) for x, y in curve]
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in at)
        lines.append(f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="2"/>')
        lines += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{colour}"/>' for x, y in at]
        label_y = TOP + 16 + 20 * number
        lines.append(f'<text x="{WIDTH - RIGHT + 12}" y="{label_y}" fill="{colour}">{name}</text>')
    middle = LEFT + (WIDTH - LEFT - RIGHT) / 2
    lines.append(f'<text x="{middle}" y="{HEIGHT - 8}" text-anchor="middle">{across}</text>')
    lines.append(f'<text x="12" y="{TOP - 6}">{up}</text>')
    return "\n".join([*lines, "</svg>", ""])


def _decades(values: Sequence[float]) -> tuple[int, int]:
    low, high = math.floor(math.log10(min(values))), math.ceil(math.log10(max(values)))
    return low, max(high, low + 1)
