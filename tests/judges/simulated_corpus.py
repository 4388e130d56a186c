"""Two thousand simulated cases over all circuits of the library, stored so that they judge alone.

    python -m tests.judges.simulated_corpus

draws them anew (the same ones, from their seeds) and lets ngspice say what is read; the readings go
into `tests/data/simulated_cases.json.gz`, each circuit beside them as it was drawn that day, so
that a drawing may change without them. Nothing was ever tuned on these seeds.
"""

import gzip
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import circuits
from circuits.engine import Fault, Network, Place, Reading, Suspect, suspects
from circuits.sheet import engine_places, read_text, to_network
from tests.judges.cars import car_of_any_parts, may_be_off
from tests.judges.simulated import STEP_VOLTS, SimulatedCase, simulated_cases

STORED = Path(__file__).parent.parent / "data" / "simulated_cases.json.gz"
LIBRARY = Path(circuits.__file__).parent / "library"
#: Of each circuit, besides those without a steady state.
WITH_A_FAULT, SOUND = 77, 22
SEED, SOUND_SEED = 770_000, 780_000

Raw = dict[str, Any]


@dataclass(frozen=True, slots=True)
class SimulatedCircuit:
    """A circuit of the library as its cases need it, and the cases."""

    key: str
    text: str
    network: Network
    places: tuple[Place, ...]
    supply: Place
    cases: tuple[SimulatedCase, ...] = ()


def library_texts() -> tuple[str, ...]:
    return tuple(path.read_text(encoding="utf-8") for path in sorted(LIBRARY.glob("*.txt")))


def circuit_of(text: str) -> SimulatedCircuit:
    """Return a circuit of the text form with the places where volts are read."""
    sheet = read_text(text)
    network = to_network(sheet)
    places = tuple(
        place for place in engine_places(sheet) if not place.through and not place.reads_ohms
    )
    ends = (network.supply, network.zero)
    unlisted = Place(key="supply", red=network.supply, black=network.zero)
    supply = next((each for each in places if (each.red, each.black) == ends), unlisted)
    return SimulatedCircuit(sheet.vehicle.key, text, network, places, supply)


def drawn_cases(
    circuit: SimulatedCircuit, *, seed: int, count: int, sound: bool = False
) -> list[SimulatedCase]:
    """Return fresh cases of a circuit."""
    return simulated_cases(
        circuit.network,
        circuit.places,
        circuit.supply,
        seed=seed,
        count=count,
        sound=sound,
        drawn=car_of_any_parts,
        may_be_off=may_be_off,
    )


@cache
def stored_circuits() -> tuple[SimulatedCircuit, ...]:
    raw = json.loads(gzip.decompress(STORED.read_bytes()))
    return tuple(map(_circuit, raw))


def _circuit(raw: Raw) -> SimulatedCircuit:
    bare = circuit_of(raw["circuit"])
    places = {place.key: place for place in (bare.supply, *bare.places)}
    listed = {suspect.id: suspect for suspect in suspects(bare.network)}
    return SimulatedCircuit(
        bare.key,
        bare.text,
        bare.network,
        bare.places,
        bare.supply,
        tuple(_case(each, places, listed) for each in raw["cases"]),
    )


def _case(raw: Raw, places: dict[str, Place], listed: dict[str, Suspect]) -> SimulatedCase:
    return SimulatedCase(
        faults=tuple(Fault(suspect=listed[name], severity=size) for name, size in raw["faults"]),
        readings=tuple(
            Reading(place=places[place], phase=phase, value=steps * STEP_VOLTS, step=STEP_VOLTS)
            for place, phase, steps in raw["readings"]
        ),
        is_strange=raw["strange"],
    )


def _raw_case(case: SimulatedCase) -> Raw:
    return {
        "faults": [(fault.suspect.id, fault.severity) for fault in case.faults],
        "readings": [
            (reading.place.key, reading.phase, round(reading.value / STEP_VOLTS))
            for reading in case.readings
        ],
        "strange": case.is_strange,
    }


def _raw_circuits() -> list[Raw]:
    found = []
    for number, text in enumerate(library_texts()):
        circuit = circuit_of(text)
        cases = [
            *drawn_cases(circuit, seed=SEED + number, count=WITH_A_FAULT),
            *drawn_cases(circuit, seed=SOUND_SEED + number, count=SOUND, sound=True),
        ]
        found.append({"circuit": text, "cases": list(map(_raw_case, cases))})
    return found


def store(raw: Sequence[Raw]) -> None:
    text = json.dumps(raw, separators=(",", ":"))
    # Without a time stamp the same cases make the same file.
    STORED.write_bytes(gzip.compress(text.encode(), mtime=0))


def main() -> None:
    raw = _raw_circuits()
    store(raw)
    count = sum(len(each["cases"]) for each in raw)
    sys.stdout.write(f"{count} cases of {len(raw)} circuits in {STORED}\n")


if __name__ == "__main__":
    main()
