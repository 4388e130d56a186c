"""The readings that tell the faults of past cases apart in the new circuit."""

from collections.abc import Sequence
from itertools import combinations

from cases.circuit import CaseCircuit
from cases.models import HEALTHY
from cases.search.query import Query
from cases.search.results import FaultGroup, PartingPlace, Transfer
from circuits.engine import Fault, Prediction, sweep
from circuits.units import format_in

GROUPS_COMPARED = 3
PLACES_SHOWN = 2


def parting_places(query: Query, groups: Sequence[FaultGroup]) -> tuple[PartingPlace, ...]:
    """Return for each two faults that are still possible the places that part them best."""
    circuit = query.circuit
    if circuit is None or circuit.refusal:
        return ()
    predictions = _predictions(query, circuit, _possible(groups))
    found: list[PartingPlace] = []
    for first, second in combinations(predictions, 2):
        found.extend(_partings(circuit, query, first, second, predictions))
    return tuple(found)


def not_parted_words(query: Query, groups: Sequence[FaultGroup]) -> tuple[str, ...]:
    """Return in words which of the faults no listed place can part, and where a lead would."""
    before = query.verdict.before if query.verdict is not None else None
    if before is None or query.circuit is None:
        return ()
    possible = set(_possible(groups))
    found = []
    for twins in before.twins:
        together = [
            _called(query.circuit, suspect) for suspect in twins.suspects if suspect in possible
        ]
        if len(together) > 1:
            between = f"; read at {', '.join(twins.between)}" if twins.between else ""
            found.append(f"no listed place parts {' and '.join(together)}{between}")
    return tuple(found)


def _possible(groups: Sequence[FaultGroup]) -> list[str]:
    open_groups = [
        group.fault.suspect
        for group in groups
        if group.fault.transfer in (Transfer.FITS, Transfer.CANNOT_SAY)
    ]
    return open_groups[:GROUPS_COMPARED]


_Predictions = dict[tuple[str, str], Prediction]


def _predictions(
    query: Query, circuit: CaseCircuit, suspects: Sequence[str]
) -> dict[str, _Predictions]:
    """Return what each fault predicts everywhere, at the severity that the readings need."""
    before = query.verdict.before if query.verdict is not None else None
    if before is None:
        return {}
    severities = {finding.suspect: finding.severity for finding in before.findings}
    places = tuple(place for key, place in circuit.places.items() if not circuit.is_barred(key))
    faults: list[Fault | None] = []
    for suspect in suspects:
        severity = severities.get(suspect)
        fault = None
        if suspect != HEALTHY and severity is not None:
            fault = Fault(suspect=circuit.suspects[suspect], severity=severity)
        faults.append(fault)
    shown = sweep(circuit.network, places, faults)
    return {suspect: shown.predictions(number) for number, suspect in enumerate(suspects)}


def _partings(
    circuit: CaseCircuit,
    query: Query,
    first: str,
    second: str,
    predictions: dict[str, _Predictions],
) -> list[PartingPlace]:
    taken = {(reading.phase, reading.place) for reading in query.compared}
    phases = {reading.phase for reading in query.compared}
    best: dict[str, tuple[bool, float, str]] = {}
    for (phase, place), one in predictions[first].items():
        other = predictions[second][phase, place]
        gap = abs(one.value - other.value)
        width = (one.high - one.low + other.high - other.low) / 2
        if (phase, place) in taken or gap <= width:
            continue
        # A phase in which readings are being taken anyway comes first, then the wider gap.
        rank = (phase in phases, gap / max(width, 1e-9), phase)
        best[place] = max(best.get(place, rank), rank)
    ranked = sorted(best.items(), key=lambda item: item[1], reverse=True)
    return [
        PartingPlace(
            first=first,
            second=second,
            place=place,
            phase=phase,
            words=(
                f"{place} ({circuit.entries[place].label}) in '{phase}': "
                f"{_shown(circuit, place, predictions[first][phase, place])} with "
                f"{_called(circuit, first)}; "
                f"{_shown(circuit, place, predictions[second][phase, place])} with "
                f"{_called(circuit, second)}"
            ),
        )
        for place, (_, _, phase) in ranked[:PLACES_SHOWN]
    ]


def _shown(circuit: CaseCircuit, place: str, prediction: Prediction) -> str:
    if prediction.over_range:
        return "OL"
    return format_in(prediction.value, circuit.entries[place].unit)


def _called(circuit: CaseCircuit, suspect: str) -> str:
    """Return a fault in trade words."""
    return "circuit in order" if suspect == HEALTHY else circuit.suspects[suspect].describe()
