"""The inspection of a circuit: what is dangerous, wrong, blind or unknown in a drawing.

Each kind of finding is a small function of its own; the list comes out gravest first.
"""

from collections.abc import Callable, Iterator

from circuits.engine import Network
from circuits.inspection import nets, telling, wiring
from circuits.inspection.drawing import Drawing
from circuits.inspection.findings import GRAVITY_WORDS, Finding, FindingKind, Gravity
from circuits.sheet import Sheet

__all__ = ["GRAVITY_WORDS", "Finding", "FindingKind", "Gravity", "inspect"]

_RULES: tuple[Callable[[Drawing], Iterator[Finding]], ...] = (
    nets.high_nets,
    wiring.fuses,
    wiring.back_feeds,
    wiring.without_return,
    wiring.floating,
    wiring.hot_relays,
    wiring.long_wires,
    telling.codes,
    telling.rules,
    telling.idle_phases,
    telling.mute_places,
    telling.missing_tolerances,
)


def inspect(sheet: Sheet, network: Network) -> tuple[Finding, ...]:
    """Return what should be mended or accepted in a circuit, the gravest first.

    More than 60 V is no finding: such a sheet is refused as it is read.
    """
    drawing = Drawing(sheet=sheet, network=network)
    order = list(FindingKind)
    found = [finding for rule in _RULES for finding in rule(drawing)]
    return tuple(sorted(found, key=lambda finding: order.index(finding.kind)))
