"""Faults that come and go: what a reading says that was taken while the symptom was absent.

A car that stalls hot and stands cold in the bay reads as a healthy one, whatever its fault. Such a
reading is set aside: it neither supports nor excludes anything. One that a healthy circuit does
not explain stays evidence, because a fault need not be felt to be there.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from circuits.engine.faults import Suspect
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.chi_square import chi_square_limit
from circuits.engine.judging.supply import shift_supply
from circuits.engine.judging.verdict import Finding, Outcome
from circuits.engine.network import Network
from circuits.engine.readings import Reading

NOTHING_LEFT = (
    "every reading was taken without the symptom and is as a healthy circuit gives it; needed are "
    "one reading with the symptom present (by a logger, or brought about by heat, cold, load or "
    "movement), and after the repair the same provocation again, without the symptom"
)


def healthy_without_symptom(network: Network, readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Return the readings taken without the symptom that a healthy circuit explains.

    Each must be explained by itself, and all of them together: tolerances that would have to pull
    two ways at once are no explanation.
    """
    absent = [reading for reading in readings if reading.symptom is False]
    if not absent:
        return ()
    healthy, _ = Bench(network, absent, ()).findings()
    most = math.sqrt(chi_square_limit(1))
    explained = [
        reading
        for reading, distance in zip(absent, healthy.distance, strict=True)
        if abs(distance) <= most
    ]
    if not explained:
        return ()
    together, _ = Bench(network, explained, ()).findings()
    return tuple(explained) if together.passes else ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A log as it is judged: the circuit at this car's supply, what counts, what is set aside."""

    network: Network
    readings: tuple[Reading, ...]
    aside: tuple[Reading, ...]
    notes: tuple[str, ...]


def heard_of(network: Network, readings: Sequence[Reading], supply_places: Sequence[str]) -> Heard:
    """Return what a log says, its supply taken as it was logged.

    Of readings of the supply in one phase the last one counts: one with the symptom, if any.
    """
    by_symptom = sorted(readings, key=lambda reading: reading.symptom is not False)
    shifted, notes = shift_supply(network, by_symptom, supply_places)
    aside = healthy_without_symptom(shifted, readings)
    return Heard(
        network=shifted,
        readings=tuple(reading for reading in readings if reading not in aside),
        aside=aside,
        notes=(*notes, *symptom_notes(aside)),
    )


def symptom_notes(aside: Sequence[Reading]) -> list[str]:
    """Say which readings were set aside."""
    if not aside:
        return []
    spots = dict.fromkeys(f"{reading.place.key} in '{reading.phase}'" for reading in aside)
    return [
        f"set aside, as taken without the symptom and as a healthy circuit gives them: "
        f"{', '.join(spots)}; they neither support nor exclude a fault"
    ]


def undecided(suspect: Suspect | None) -> Finding:
    """Return what is said of a suspect, or of healthy, where no reading is left to judge by."""
    return Finding(
        suspect=suspect,
        outcome=Outcome.CANNOT_SAY,
        misfit=0.0,
        misfit_limit=0.0,
        severity=None,
        severity_low=None,
        severity_high=None,
        predicted=(),
        distance=(),
        deciding=None,
        because=NOTHING_LEFT,
    )
