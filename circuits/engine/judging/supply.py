"""Set the source of a circuit to what this vehicle showed, before anything is judged."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from circuits.engine.judging.bench import Bench
from circuits.engine.network import KeyState, Network, Phase
from circuits.engine.parts import Battery, Supply
from circuits.engine.parts.part import SUPPLY_VOLTS_TOLERANCE_FRACTION
from circuits.engine.readings import AS_IT_STANDS, Bound, Meter, Place, Reading

# A rested battery between half and full charge is a supply, not a fault (12.24 to 12.65 V for
# half to full in the usual open-circuit table of a flooded battery).
MOST_REST_SHIFT_FRACTION = 0.03
# A stand-in for the rest of the car moves with charge, load and cold. What lies further off is
# pulled there by a fault, such as a dead short. Common practice, no source.
MOST_SUPPLY_SHIFT_FRACTION = 0.25
USUAL_VOLTS_KEPT = 256


def shift_supply(
    network: Network, readings: Sequence[Reading], supply_places: Sequence[str]
) -> tuple[Network, list[str]]:
    """Set the source to what was logged at the supply, in the phases where it was."""
    notes: list[str] = []
    logged = {
        reading.phase: reading for reading in readings if takes_supply(reading, supply_places)
    }
    if not logged:
        return network, notes
    usual = _usual_volts(network, list(logged.values()))
    rest_shift: float | None = None
    phases: list[Phase] = []
    for phase in network.phases:
        reading = logged.get(phase.name)
        if reading is None:
            phases.append(phase)
            continue
        shift = reading.value - usual[phase.name]
        if phase.key_state is KeyState.OFF and rest_shift is None:
            rest_shift = shift
        supplies = [part for part in network.parts_in(phase) if isinstance(part, Supply)]
        if any(abs(shift) > MOST_SUPPLY_SHIFT_FRACTION * abs(part.volts) for part in supplies):
            notes.append(
                f"the supply in '{phase.name}' was logged {shift:+.2f} V from its usual volts; "
                "that is more than charge and load explain, so it is judged and not taken as given"
            )
            phases.append(phase)
            continue
        changes = {part.name: _shifted(part, shift) for part in supplies}
        if changes:
            notes.append(
                f"the supply in '{phase.name}' is taken as it was logged, {reading.value:g} V "
                f"at {reading.place.key}"
            )
        phases.append(replace(phase, changes={**phase.changes, **changes}))
    shifted = replace(network, phases=tuple(phases))
    if rest_shift is not None:
        shifted = _shift_batteries(shifted, rest_shift, notes)
    return shifted, notes


def takes_supply(reading: Reading, supply_places: Sequence[str]) -> bool:
    """Return whether a reading says what this car's supply was."""
    return (
        reading.place.key in supply_places
        and reading.rig == AS_IT_STANDS
        and reading.bound is Bound.EXACT
    )


def _usual_volts(network: Network, logged: Sequence[Reading]) -> dict[str, float]:
    """Return what a healthy car as it is drawn shows where the supply was logged, by phase."""
    asked = _Asked(network, tuple((each.phase, each.place, each.meter) for each in logged))
    return _shown_as_drawn(asked)


class _Asked:
    """What usual volts are kept under: a network is the same as long as it is the same object."""

    def __init__(self, network: Network, seats: tuple[tuple[str, Place, Meter], ...]) -> None:
        self.network, self.seats = network, seats
        self._key = (id(network), seats)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self._key == other._key

    def __hash__(self) -> int:
        return hash(self._key)


# It is asked several times for one verdict, and with each reading that is typed.
@lru_cache(maxsize=USUAL_VOLTS_KEPT)
def _shown_as_drawn(asked: _Asked) -> dict[str, float]:
    readings = [
        Reading(place=place, phase=phase, value=0.0, step=place.usual_step, meter=meter)
        for phase, place, meter in asked.seats
    ]
    # Bands are not asked for, which would take far longer than the volts.
    bench = Bench(asked.network, readings, ())
    shown, _ = bench.show(bench.sound())
    phases = [phase for phase, _, _ in asked.seats]
    return dict(zip(phases, shown[0].tolist(), strict=True))


def _shifted(supply: Supply, shift: float) -> Supply:
    """Return a supply at what was logged, less surely so where charge and load hardly explain it.

    Beyond its own tolerance a fault may have pulled it: then the source is still at its usual
    volts, and the fault would pull it a second time. The tolerance reaches back to them; what was
    logged at the supply itself keeps the other readings of the phase as close as ever.
    """
    own = supply.volts_tolerance
    if own is None:
        own = SUPPLY_VOLTS_TOLERANCE_FRACTION * abs(supply.volts)
    shifted = replace(supply, volts=supply.volts + shift)
    return shifted if abs(shift) <= own else replace(shifted, volts_tolerance=own + abs(shift))


def _shift_batteries(network: Network, shift: float, notes: list[str]) -> Network:
    batteries = [part for part in network.parts if isinstance(part, Battery)]
    if len(batteries) != 1:
        return network
    battery = batteries[0]
    most = MOST_REST_SHIFT_FRACTION * battery.open_circuit_volts
    if abs(shift) > most:
        notes.append(
            f"{battery.name} was logged {shift:+.2f} V from its usual rest volts; that is more "
            "than its charge explains, so it is judged and not taken as given"
        )
        return network
    volts = battery.open_circuit_volts + shift
    notes.append(f"{battery.name} is taken at {volts:.2f} V, as it was logged at rest")
    return network.with_part_values(battery.name, open_circuit_volts=volts)
