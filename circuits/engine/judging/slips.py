"""What a reading may have been meant as: slips of the pen and of the leads, each with its misfit.

Volts are written for millivolts, leads are swapped, a drop lands in the row of its neighbour, a
key is not where the heading says. Each such slip is undone in turn and the case is judged anew. A
slip is worth asking about if a healthy circuit fits once it is undone, or if a single fault then
fits where none, or only a far worse one, fits as written. Nothing is changed: what was typed
stands until somebody who was there says otherwise.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from circuits.engine.faults import Suspect
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.chi_square import chi_square_limit
from circuits.engine.judging.screening import Screen
from circuits.engine.judging.supply import shift_supply
from circuits.engine.judging.verdict import Finding
from circuits.engine.listing import suspects
from circuits.engine.network import Network
from circuits.engine.parts import HIGHEST_VOLTS
from circuits.engine.readings import Place, Reading

# One reading in a hundred is a slip; undoing one has to make the readings so much likelier,
# 2 ln 100, before it is put beside a fault that fits as written. Common practice, no source.
SLIP_COST = 9.21


class SlipKind(StrEnum):
    """What may have gone wrong when a reading was taken or written down."""

    THOUSAND_TOO_MUCH = "written a thousand times too large"
    THOUSAND_TOO_LITTLE = "written a thousand times too small"
    LEADS_SWAPPED = "leads swapped"
    OTHER_PLACE = "taken at another place"
    PLACES_SWAPPED = "swapped with another reading"
    OTHER_PHASE = "taken in another phase"
    WHOLE_PHASE = "all of this phase taken in another"


@dataclass(frozen=True, slots=True, kw_only=True)
class MendedCase:
    """A case with one slip undone: the readings as they may have been meant, and what fits them.

    `changed` holds the numbers of the readings that differ, `fits` the ids of what fits, best
    first: healthy alone, where it does. `misfit` is that of the best, to be held against
    `misfit_limit`.
    """

    kind: SlipKind
    readings: tuple[Reading, ...]
    changed: tuple[int, ...]
    fits: tuple[str, ...]
    misfit: float
    misfit_limit: float


def possible_slips(
    network: Network,
    readings: Sequence[Reading],
    number: int,
    *,
    places: Sequence[Place] = (),
    supply_places: Sequence[str] = (),
    far_better: bool = False,
    may_go_on: Callable[[], bool] = lambda: True,
) -> tuple[MendedCase, ...]:
    """Return the slips in one reading that would make the case whole, the best first.

    Nothing comes back where a healthy circuit fits the readings as they are written. Slips that
    leave a fault are looked for only where none leaves a healthy circuit, the plainer answer, and
    no single fault fits as written, or each far worse than one with the slip undone.

    Parameters
    ----------
    number
        Which of the readings is doubted.
    places
        The circuit's listed places, at which the reading may have been taken instead.
    supply_places
        Keys of the places that read the supply itself, as for `judge`.
    far_better
        Whether a slip has to make the readings far likelier than the best single fault does as
        they are written, also where it leaves a healthy circuit: for a figure that a fault can
        give, which in a car with a complaint is no surprise. Faults are then looked for among
        those that agree with the other readings.
    may_go_on
        Asked before each slip is judged; once it says no, those not judged yet are left out. Those
        that the fewest faults could have shown are judged first.

    Raises
    ------
    BadPlace, BadPhase
        A reading names something that is not in the circuit.
    IndexError
        There is no reading of that number.

    Examples
    --------
    Millivolts across a sound fuse, written down as volts:

    >>> from circuits.engine import (
    ...     Battery, Fuse, Network, Place, Reading, Resistor, possible_slips)
    >>> lamp = Network(zero="minus", parts=(
    ...     Battery(name="B1", first="plus", second="minus",
    ...             open_circuit_volts=12.6, internal_ohms=0.01),
    ...     Fuse(name="F1", first="plus", second="in", rated_amps=15.0),
    ...     Resistor(name="H1", first="in", second="minus", ohms=6.0),
    ... ))
    >>> at_lamp = Place(key="lamp", red="in", black="minus")
    >>> at_fuse = Place(key="fuse", red="plus", black="in")
    >>> logged = [Reading(place=at_lamp, phase="as drawn", value=12.57, step=0.01),
    ...           Reading(place=at_fuse, phase="as drawn", value=10.0, step=0.1)]
    >>> [str(mended.kind) for mended in possible_slips(lamp, logged, 1)]
    ['written a thousand times too large']
    """
    doubted = readings[number]
    if _healthy(network, readings, supply_places).passes:
        return ()
    likely: frozenset[str] | None = None
    most = math.inf
    if far_better:
        best, likely = _without_doubted(network, readings, number, supply_places)
        most = best - SLIP_COST
        if most <= 0:
            return ()
    undone = []
    for kind, changes in _undone(network, readings, number, doubted, places):
        meant = tuple(changes.get(each, reading) for each, reading in enumerate(readings))
        if not _shifts_too_far(meant, supply_places):
            undone.append((kind, tuple(changes), meant))
    could = _could_fit(network, [meant for _, _, meant in undone], supply_places, likely)
    both = sorted(zip(undone, could, strict=True), key=lambda each: len(each[1][1]))
    mended = [
        _mended(kind, changed, meant, [healthy])
        for (kind, changed, meant), (sound, _) in both
        if sound
        and may_go_on()
        and (healthy := _healthy(network, meant, supply_places)).passes
        and healthy.misfit <= most
    ]
    if not mended:
        if not far_better:
            as_written = _faults(network, readings, supply_places)
            most = as_written[0].misfit - SLIP_COST if as_written else math.inf
        mended = [
            _mended(kind, changed, meant, fitting)
            for (kind, changed, meant), (_, among) in both
            if most > 0
            and among
            and may_go_on()
            and (fitting := _faults(network, meant, supply_places, among))
            and fitting[0].misfit <= most
        ]
    return tuple(sorted(mended, key=lambda each: each.misfit))


def could_be_sound(
    network: Network, logs: Sequence[Sequence[Reading]], supply_places: Sequence[str] = ()
) -> tuple[bool, ...]:
    """Return of each log whether a healthy circuit could have given each of its readings.

    Asked before `judge`, which takes the readings of a log together: where it says no, healthy
    does not fit. Several ways to read one log are asked about in one go.

    Parameters
    ----------
    supply_places
        Keys of the places that read the supply itself, as for `judge`. What no source gives is no
        supply: such a log could not.

    Raises
    ------
    BadPlace, BadPhase
        A reading names something that is not in the circuit.
    """
    sane = [number for number, log in enumerate(logs) if not _shifts_too_far(log, supply_places)]
    found = _could_fit(network, [logs[number] for number in sane], supply_places, frozenset())
    sound = {number for number, (is_sound, _) in zip(sane, found, strict=True) if is_sound}
    return tuple(number in sound for number in range(len(logs)))


def _without_doubted(
    network: Network, readings: Sequence[Reading], number: int, supply_places: Sequence[str]
) -> tuple[float, frozenset[str]]:
    """Return the least misfit of a single fault, and which faults fit all other readings."""
    shifted, _ = shift_supply(network, readings, supply_places)
    listed = suspects(shifted)
    bench = Bench(shifted, readings, listed)
    _, findings = bench.findings(doubted=number)
    assert bench.tried is not None  # by what `findings` has just done
    limit = chi_square_limit(len(readings) - 1) if len(readings) > 1 else math.inf
    moves = np.unique(bench.tried.move[bench.tried.without[:, number] <= limit])
    agreeing = frozenset(listed[move - 1].id for move in moves.tolist() if move)
    return min((finding.misfit for finding in findings), default=math.inf), agreeing


def _could_fit(
    network: Network,
    logs: Sequence[Sequence[Reading]],
    supply_places: Sequence[str],
    among: frozenset[str] | None,
) -> list[tuple[bool, frozenset[str]]]:
    """Return of each log whether the car in order could have shown it, and which faults could.

    Of all faults, or `among` some. Logs that have the same supply in each phase, where both have
    one, are asked of one screen.
    """
    groups: list[tuple[dict[str, float], list[int]]] = []
    for number, log in enumerate(logs):
        supply = {each.phase: each.value for each in log if each.place.key in supply_places}
        for known, numbers in groups:
            if all(known.get(phase, value) == value for phase, value in supply.items()):
                known.update(supply)
                numbers.append(number)
                break
        else:
            groups.append((supply, [number]))
    found: dict[int, tuple[bool, frozenset[str]]] = {}
    for _, numbers in groups:
        together = [reading for number in numbers for reading in logs[number]]
        shifted, _ = shift_supply(network, together, supply_places)
        screen = Screen(shifted, together, _listed(shifted, among))
        found.update((number, screen.may_fit(logs[number])) for number in numbers)
    return [found[number] for number in range(len(logs))]


def _shifts_too_far(readings: Sequence[Reading], supply_places: Sequence[str]) -> bool:
    """Whether a reading of the supply would make it a source that is refused."""
    return any(
        reading.place.key in supply_places and abs(reading.value) > HIGHEST_VOLTS
        for reading in readings
    )


def _healthy(
    network: Network, readings: Sequence[Reading], supply_places: Sequence[str]
) -> Finding:
    """Return how a healthy circuit fits."""
    shifted, _ = shift_supply(network, readings, supply_places)
    return Bench(shifted, readings, ()).findings()[0]


def _faults(
    network: Network,
    readings: Sequence[Reading],
    supply_places: Sequence[str],
    among: frozenset[str] | None = None,
) -> list[Finding]:
    """Return the single faults that fit, the best first, of all or `among` some."""
    shifted, _ = shift_supply(network, readings, supply_places)
    _, findings = Bench(shifted, readings, _listed(shifted, among)).findings()
    fitting = [finding for finding in findings if finding.passes]
    return sorted(fitting, key=lambda finding: finding.misfit)


def _listed(network: Network, among: frozenset[str] | None) -> list[Suspect]:
    return [each for each in suspects(network) if among is None or each.id in among]


def _mended(
    kind: SlipKind, changed: tuple[int, ...], meant: tuple[Reading, ...], fitting: Sequence[Finding]
) -> MendedCase:
    return MendedCase(
        kind=kind,
        readings=meant,
        changed=changed,
        fits=tuple(finding.id for finding in fitting),
        misfit=fitting[0].misfit,
        misfit_limit=fitting[0].misfit_limit,
    )


def _undone(
    network: Network,
    readings: Sequence[Reading],
    number: int,
    doubted: Reading,
    places: Sequence[Place],
) -> Iterator[tuple[SlipKind, dict[int, Reading]]]:
    """Yield each slip that is possible here, with the readings that it changes."""
    if not doubted.is_over_range and doubted.value:
        yield from _otherwise_written(number, doubted)
    taken = {(reading.place.key, reading.phase) for reading in readings}
    for place in places:
        free = (place.key, doubted.phase) not in taken
        if free and place.unit == doubted.place.unit:
            yield SlipKind.OTHER_PLACE, {number: replace(doubted, place=place)}
    for other, reading in enumerate(readings):
        alike = (reading.phase, reading.place.unit) == (doubted.phase, doubted.place.unit)
        if alike and other != number:
            yield (
                SlipKind.PLACES_SWAPPED,
                {
                    number: replace(doubted, place=reading.place, rig=reading.rig),
                    other: replace(reading, place=doubted.place, rig=doubted.rig),
                },
            )
    yield from _in_other_phases(network, readings, number, taken)


def _otherwise_written(
    number: int, doubted: Reading
) -> Iterator[tuple[SlipKind, dict[int, Reading]]]:
    for kind, factor in (
        (SlipKind.THOUSAND_TOO_MUCH, 1e-3),
        (SlipKind.THOUSAND_TOO_LITTLE, 1e3),
    ):
        meant = replace(doubted, value=doubted.value * factor, step=doubted.step * factor)
        yield kind, {number: meant}
    swapped = replace(doubted, value=-doubted.value, bound=doubted.bound.turned)
    yield SlipKind.LEADS_SWAPPED, {number: swapped}


def _in_other_phases(
    network: Network, readings: Sequence[Reading], number: int, taken: set[tuple[str, str]]
) -> Iterator[tuple[SlipKind, dict[int, Reading]]]:
    """Yield the reading, and all readings of its phase, in every phase that has room for them."""
    phase = readings[number].phase
    together = [each for each, reading in enumerate(readings) if reading.phase == phase]
    for other in network.phases:
        if other.name == phase:
            continue
        for kind, moved in ((SlipKind.OTHER_PHASE, [number]), (SlipKind.WHOLE_PHASE, together)):
            if kind is SlipKind.WHOLE_PHASE and len(together) == 1:
                continue
            if any((readings[each].place.key, other.name) in taken for each in moved):
                continue
            yield kind, {each: replace(readings[each], phase=other.name) for each in moved}
