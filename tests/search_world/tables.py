"""What each fault of the library's circuits shows, as ngspice gives it; drawn once and kept.

    python -m tests.search_world.tables

For each suspect some cars are drawn, their parts anywhere within tolerance, the fault as bad as it
may be. ngspice says what the places read in every phase. What is kept is how far each reading lies
from the circuit in order, as search keeps it: the supply of the day taken out by proportion, in
sixteenths of a signed logarithm of combined uncertainties. -128 says that nothing can be read.

The file is frozen. Search is tuned on cases of other seeds than it is measured on, never on this.
"""

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from circuits.engine import Network, Part

KEPT = Path(__file__).parent / "tables.npz"
LIBRARY = Path(__file__).parents[2] / "circuits" / "library"
NO_READING = -128
CARS = 6
SEED = 41


def main() -> None:
    """Draw the tables and keep them."""
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    django.setup()
    arrays: dict[str, np.ndarray] = {}
    for path in sorted(LIBRARY.glob("*.txt")):
        arrays |= dict(_circuit(path))
    with KEPT.open("wb") as file:
        np.savez_compressed(file, allow_pickle=False, **arrays)


def _circuit(path: Path) -> Iterator[tuple[str, np.ndarray]]:
    from cases.circuit import circuit_from_sheet
    from cases.documents.readings import Rig
    from cases.search.evidence import slot_of, steps_of
    from circuits.engine import Fault, sweep, weigh_suspects
    from circuits.sheet import read_text
    from tests.engine.test_tolerance_bands import tolerances
    from tests.judges import ngspice
    from tests.judges.standing import Standings

    circuit = circuit_from_sheet(read_text(path.read_text(encoding="utf-8")))
    network = circuit.network
    key = circuit.sheet.vehicle.key
    random = np.random.default_rng([SEED, *key.encode()])
    phases = [phase.name for phase in network.phases]
    places = [
        place for place in circuit.places.values() if not place.reads_ohms and not place.through
    ]
    supply = circuit.supply_place
    shown = sweep(network, [*places, supply], [None])
    healthy = shown.values[0]  # (P, R + 1)
    uncertainty = np.maximum((shown.high[0] - shown.low[0]) / 2 / 2.807, 1e-9)
    prior = weigh_suspects(network)
    names = list(tolerances(network))
    wanted: list[tuple[int, int]] = []
    asked: list[ngspice.Case] = []
    suspects = sorted(circuit.suspects)
    by_suspect: dict[str, list[tuple[Fault, float]]] = {name: [] for name in suspects}
    for fault, share in zip(prior.faults, prior.probability.tolist(), strict=True):
        if fault is not None:
            by_suspect[fault.suspect.id].append((fault, share))
    for car_number in range(CARS):
        car = drawn_car(network, {part: float(random.uniform(-1, 1)) for part in names})
        chosen = []
        for name in suspects:
            shares = np.array([share for _, share in by_suspect[name]])
            at = random.choice(len(shares), p=shares / shares.sum())
            chosen.append(by_suspect[name][at][0])
        standings = Standings(car, [(fault,) for fault in chosen])
        for number in range(len(suspects)):
            if not any(standings.standing(number, phase).chatters for phase in phases):
                wanted.append((number, car_number))
                asked.extend(standings.case(number, phase) for phase in phases)
    answers = ngspice.solve_all(asked)
    sizes = np.full((len(suspects), CARS, len(phases), len(places)), NO_READING, dtype=np.int8)
    for at, (number, car_number) in enumerate(wanted):
        for row in range(len(phases)):
            volts = {network.zero: 0.0, **answers[at * len(phases) + row].volts}
            if not {supply.red, supply.black} <= volts.keys():
                continue
            share = (volts[supply.red] - volts[supply.black]) / healthy[row, -1]
            for column, place in enumerate(places):
                if {place.red, place.black} <= volts.keys():
                    read = volts[place.red] - volts[place.black]
                    distance = (read - share * healthy[row, column]) / uncertainty[row, column]
                    size = float(np.copysign(np.log2(1 + abs(distance)), distance))
                    sizes[number, car_number, row, column] = np.frombuffer(
                        steps_of([size]), np.int8
                    )[0]
    slots = [slot_of(circuit, place.key, phase, Rig()) for phase in phases for place in places]
    print(key, len(suspects), len(slots), len(wanted), flush=True)  # noqa: T201
    yield f"{key}/system", np.array(circuit.sheet.vehicle.system)
    yield f"{key}/faults", np.array(suspects)
    yield f"{key}/slots", np.array(slots)
    yield f"{key}/sizes", sizes.reshape(len(suspects), CARS, -1)


def drawn_car(network: "Network", off: dict[tuple[str, str], float]) -> "Network":
    """Return one car: parts off by so much of their tolerance; other kinds are as drawn."""
    from tests.engine.test_tolerance_bands import drawn_part

    def drawn(part: "Part", phase: str) -> "Part":
        try:
            return drawn_part(part, off, phase)
        except TypeError:
            return part

    phases = tuple(
        replace(
            phase, changes={part.name: drawn(part, phase.name) for part in network.parts_in(phase)}
        )
        for phase in network.phases
    )
    return replace(network, phases=phases)


if __name__ == "__main__":
    main()
