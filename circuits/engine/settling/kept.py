"""Charts of circuits, kept for the next case.

Which state holds at which severity follows from the circuit and its suspects alone, whatever was
read. A case is judged again with each reading that comes in, and a circuit has many cases, so the
last charts are kept. They are asked for by value: a circuit that is set to the same supply twice is
the same circuit.
"""

from collections.abc import Callable, Sequence
from threading import Lock
from typing import NamedTuple

from circuits.engine.equations.wiring import Situation
from circuits.engine.faults import Suspect
from circuits.engine.network import Network
from circuits.engine.settling.chart import Chart

#: One takes some hundred kilobytes.
MOST_KEPT = 32

#: Situations in order, each with the one that it is entered from.
Steps = tuple[tuple[Situation, Situation | None], ...]


class _Drawn(NamedTuple):
    """What a chart was drawn of; what is compared at the least cost comes first."""

    steps: Steps
    network: Network
    suspects: tuple[Suspect | None, ...]


_kept: list[tuple[_Drawn, Chart | None]] = []
_lock = Lock()


def kept_chart(
    network: Network,
    suspects: Sequence[Suspect | None],
    steps: Steps,
    draw: Callable[[], Chart | None],
) -> Chart | None:
    """Return the chart of a circuit's suspects through some situations, drawn if none is kept."""
    asked = _Drawn(steps, network, tuple(suspects))
    with _lock:
        for number, (drawn, chart) in enumerate(_kept):
            if drawn == asked:
                _kept.append(_kept.pop(number))
                return chart
    # Drawing takes long: others need not wait for it, and at worst it is drawn twice.
    chart = draw()
    with _lock:
        _kept.append((asked, chart))
        del _kept[:-MOST_KEPT]
    return chart


def forget_charts() -> None:
    """Begin with nothing kept, as a process does."""
    with _lock:
        _kept.clear()
