"""Places that a circuit does not list, by keys that say where they are.

    K30 - K87                volts between two connections
    round F9                 amps through a part, with a clamp
    bench: winding K4.coil   a step of the bench sheet, with the part taken out

A test sheet asks for readings wherever a part is checked, and a technician puts leads where they
reach. Such a reading is judged like any other: the engine needs the two points, no list.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from circuits.engine import KeyState, Network, Place
from circuits.part_sheets.allowed import pin_words
from circuits.part_sheets.on_the_bench import BenchStep, bench_steps
from circuits.sheet import PlaceEntry, Sheet

BENCH = "bench"
_BENCH_START = "bench: "
_BETWEEN = re.compile(r"(?P<red>\S+) - (?P<black>\S+)")
_ROUND = re.compile(r"round (?P<part>\S+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place that is not listed: as an entry of a list would have it, and as the engine has it.

    `place` is None where the engine makes no prediction; `unplugged` are the parts that must be
    off its ends for the reading to be of one part alone.
    """

    entry: PlaceEntry
    place: Place | None
    step: BenchStep | None = None
    unplugged: frozenset[str] = frozenset()


def key_between(red: str, black: str) -> str:
    """Return the key of the volts between two connections."""
    return f"{red} - {black}"


def key_round(part: str) -> str:
    """Return the key of a clamp round a part."""
    return f"round {part}"


def key_on_bench(step: BenchStep) -> str:
    """Return the key of a step on the bench."""
    return f"{_BENCH_START}{step.what}"


def is_on_bench(key: str) -> bool:
    """Whether a place is read with the part taken out, in the phase 'bench'."""
    return key.startswith(_BENCH_START)


def bench_spots(sheet: Sheet, network: Network) -> Mapping[str, Spot]:
    """Return every step that the parts of a circuit have on a bench, by key."""
    steps = bench_steps(sheet, network, network.parts)
    return {key_on_bench(step): _on_bench(network, step) for step in steps}


def spot_at(sheet: Sheet, network: Network, key: str) -> Spot | None:
    """Return the place in the vehicle that a key says, or None where this circuit has none."""
    nodes, parts = set(network.nodes), {part.name for part in network.parts}
    if (found := _BETWEEN.fullmatch(key)) and {found["red"], found["black"]} <= nodes:
        red, black = found["red"], found["black"]
        label = f"{pin_words(sheet, red)} to {pin_words(sheet, black)}"
        place = Place(key=key, red=red, black=black)
        return Spot(entry=_entry(key, label, "V", red=red, black=black), place=place)
    if (found := _ROUND.fullmatch(key)) and found["part"] in parts:
        part = found["part"]
        entry = _entry(key, f"clamp round {part}", "A", through=part)
        return Spot(entry=entry, place=Place(key=key, through=part))
    return None


def resting_phase(network: Network) -> str:
    """Return a phase in which contacts are at rest, as they are in a part taken out."""
    at_rest = (phase for phase in network.phases if phase.key_state is KeyState.OFF)
    return next(at_rest, network.phases[0]).name


def _on_bench(network: Network, step: BenchStep) -> Spot:
    key = key_on_bench(step)
    part = network.part(step.part)
    entry = _entry(key, f"{step.what}, taken out", step.unit, red=part.first, black=part.second)
    if not step.is_alone:
        return Spot(entry=entry, place=None, step=step)
    others = frozenset(
        other.name
        for other in network.parts
        if other is not part and {part.first, part.second} & {other.first, other.second}
    )
    place = Place(key=key, red=part.first, black=part.second, reads_ohms=True)
    return Spot(entry=entry, place=place, step=step, unplugged=others)


def _entry(
    key: str, label: str, unit: str, *, red: str = "", black: str = "", through: str = ""
) -> PlaceEntry:
    # Not checked as an entry of a sheet: its key is no name there.
    return PlaceEntry.model_construct(
        key=key, label=label, unit=unit, red=red, black=black, through=through
    )
