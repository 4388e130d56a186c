"""What meters show along the lines of suspects, as formulas.

On a stretch of a line no state changes (see `chart`), and what a meter shows is a Moebius function
of the share u,

    (above[0] + above[1] u) / (below[0] + below[1] u),

its load on the circuit included: the ohms behind the leads are a Moebius function with the same
denominator. Where a suspect moves several things both are polynomials (see `ratios`).
"""

import numpy as np

from circuits.engine.equations.moves import BoolArray
from circuits.engine.equations.ratios import together
from circuits.engine.equations.stage import Stage, Trials
from circuits.engine.equations.wiring import IntArray
from circuits.engine.laws import FloatArray

# Where on a stretch an odd line is looked at; the middle one is halfway between the others.
LINE_POINTS = (0.1, 0.5, 0.9)


def place_lines(
    stage: Stage, suspect: IntArray, low: FloatArray, high: FloatArray, pieces: IntArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return what meters show along stretches (E,) of the lines of suspects of one move.

    At share u that is (above[0] + above[1] u) / (below[0] + below[1] u), each (2, E, R), and
    the same sign below all along the stretch; the third says where a place floats (E, R).
    """
    middle = (low + high) / 2
    trials = Trials.of_singles(suspect, middle, 1 - middle)
    _, floating = stage.read(trials, pieces)
    crowded = stage.crowded(stage.moved(trials), pieces)
    above = np.zeros((2, len(suspect), len(stage.places)))
    below = np.zeros_like(above)
    ohms = np.where(stage.reads_volts, stage.input_ohms, np.inf)
    for plain, stances in crowded.plain:
        above[:, plain], below[:, plain] = stage.crowd.place_lines(stances.pair[:, 0], ohms)
    odd = crowded.odd
    if odd.size:
        above[:, odd], below[:, odd] = _lines_through_points(
            stage, suspect[odd], low[odd], high[odd], pieces[odd]
        )
    above[:, floating], below[0, floating], below[1, floating] = 0.0, 1.0, 0.0
    return above, below, floating


def _lines_through_points(
    stage: Stage, suspect: IntArray, low: FloatArray, high: FloatArray, pieces: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return the same of odd trials: a line of this kind is known by three of its points."""
    width = high - low
    shown = []
    for part in LINE_POINTS:
        share = low + part * width
        shown.append(stage.read(Trials.of_singles(suspect, share, 1 - share), pieces)[0])
    first, middle, last = shown
    # From the first point to the last, t from 0 to 1: (first + t (k last - first)) over
    # (1 + t (k - 1)), and the middle says k.
    with np.errstate(divide="ignore", invalid="ignore"):
        lean = (first - middle) / (middle - last)
    lean = np.where(np.isfinite(lean) & (lean > 0), lean, 1.0)
    above, below = np.stack([first, lean * last - first]), np.stack([1 + 0 * lean, lean - 1])
    span = ((LINE_POINTS[2] - LINE_POINTS[0]) * width)[:, None]
    start = (low + LINE_POINTS[0] * width)[:, None]
    for line in (above, below):
        line[1] /= span
        line[0] -= line[1] * start
    return above, below


def place_ratios(
    stage: Stage, suspect: IntArray, share: FloatArray, pieces: IntArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return what meters show along the lines (E,) of suspects of any moves, around a share.

    That is above over below, polynomials in the share (E, R, N); the third says where a place
    floats (E, R).
    """
    trials = Trials.of_singles(suspect, share, 1 - share)
    _, floating = stage.read(trials, pieces)
    ohms = np.where(stage.reads_volts, stage.input_ohms, np.inf)
    groups = [
        (each.number, *each.place_ratios(ohms))
        for each in together(stage, stage.moved(trials), pieces)
    ]
    terms = max((above.shape[2] for _, above, _ in groups), default=1)
    ratios = np.zeros((2, *floating.shape, terms))
    for number, *group in groups:
        for ratio, part in zip(ratios, group, strict=True):
            ratio[number, :, : part.shape[2]] = part
    above, below = ratios
    above[floating], below[floating], below[floating, 0] = 0.0, 0.0, 1.0
    return above, below, floating
