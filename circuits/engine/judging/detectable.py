"""How small a fault a reading could have seen: what a reading near healthy does not rule out.

A fault shows in a reading as soon as it moves it further than a sound car may be off, tolerances
and meter together. A joint shows by the amps that go through it: 50 mV of doubt are 45 mOhm at
1.1 A, and 0.7 mOhm at 72 A. Where nothing flows no resistance shows, however large, until it is
large beside the meter's own.
"""

from collections.abc import Sequence

import numpy as np

from circuits.engine.equations.stage import Trials
from circuits.engine.faults import Suspect
from circuits.engine.judging.bench import Bench
from circuits.engine.laws import FloatArray
from circuits.engine.network import Network
from circuits.engine.readings import Reading
from circuits.engine.settling.ranges import COVERAGE_FACTOR

# Each round of so many severities narrows the gap around the edge by as many; the edge is met to
# less than a thousandth.
ROUNDS = 3
POINTS = 12


def least_seen(
    network: Network,
    suspect: Suspect,
    readings: Sequence[Reading],
    half_widths: Sequence[float] | None = None,
) -> tuple[float | None, ...]:
    """Return for each reading the mildest severity it could have told from healthy.

    The value that was logged plays no part, only where and how it was read. None stands for a
    reading that this fault does not show in, however bad it is.

    Parameters
    ----------
    half_widths
        How far a sound car may be off at each reading; without, what the parts' tolerances, the
        meter and the display's last digit leave at 99.5 %.

    Raises
    ------
    BadPlace, BadPhase
        A reading names something that is not in the circuit.

    Examples
    --------
    At the lamp, a volt of doubt hides an ohm and more in a wire that carries an amp:

    >>> from circuits.engine import (
    ...     IdealSource, Network, Place, Reading, Resistor, find_suspect, least_seen)
    >>> lamp = Network(zero="minus", parts=(
    ...     IdealSource(name="B1", first="plus", second="minus", volts=12.0),
    ...     Resistor(name="W1", first="plus", second="in", ohms=0.001),
    ...     Resistor(name="H1", first="in", second="minus", ohms=11.0),
    ... ))
    >>> at_lamp = Reading(place=Place(key="lamp", red="in", black="minus"), phase="as drawn",
    ...                   value=12.0, step=0.01)
    >>> wire = find_suspect(lamp, "resistance:W1")
    >>> [round(ohms, 2) for ohms in least_seen(lamp, wire, [at_lamp], [1.0])]
    [1.0]
    """
    bench = Bench(network, readings, [suspect])
    in_order = Trials.of_singles(np.array([0]), np.array([0.0]), np.array([1.0]))
    went = bench.settle(in_order)
    sound = bench.joint.shown(went)[0][0]
    if half_widths is None:
        # By the wider line, where one side of a corner is surer than the other.
        doubt = COVERAGE_FACTOR * bench.expect(in_order, went).uncertainty[0]
    else:
        doubt = np.array(half_widths, dtype=np.float64)
    grid = suspect.severity_grid()
    seen = _moved(bench, grid, sound) > doubt
    shown = np.flatnonzero(seen.any(axis=0))
    first = seen.argmax(axis=0)[shown]
    seen_at, unseen_at = grid[first], grid[np.maximum(first - 1, 0)]
    # An open or a dead short has no neighbour on a logarithmic scale.
    between = np.flatnonzero(np.isfinite(seen_at) & (seen_at > 0) & (first > 0))
    for _ in range(ROUNDS if between.size else 0):
        finer = np.geomspace(unseen_at[between], seen_at[between], POINTS + 1)  # (E, m)
        moved = _moved(bench, finer.ravel(), sound).reshape(*finer.shape, len(readings))
        own = np.arange(len(between))
        beyond = moved[:, own, shown[between]] > doubt[shown[between]]
        beyond[0], beyond[-1] = False, True
        edge = beyond.argmax(axis=0)
        unseen_at[between], seen_at[between] = finer[edge - 1, own], finer[edge, own]
    least: list[float | None] = [None] * len(readings)
    for number, severity in zip(shown.tolist(), seen_at.tolist(), strict=True):
        least[number] = severity
    return tuple(least)


def _moved(bench: Bench, severities: FloatArray, sound: FloatArray) -> FloatArray:
    """Return how far severities (E,) move each reading from sound (E, m)."""
    suspect = bench.suspects[1]
    assert suspect is not None
    shares = np.array([suspect.share(severity) for severity in severities.tolist()])
    moves = np.ones(len(severities), dtype=np.intp)
    shown, half_span = bench.show(Trials.of_singles(moves, shares[:, 0], shares[:, 1]))
    # Between the two states of a chatter a meter shows anything.
    return np.asarray(np.maximum(np.abs(shown - sound) - half_span, 0.0), dtype=np.float64)
