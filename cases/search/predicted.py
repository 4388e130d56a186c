"""Which faults the circuit itself makes likely: prediction, where there is no experience yet."""

from collections.abc import Mapping

from cases.models import HEALTHY
from cases.search.evidence import fault_text
from cases.search.posterior import Posterior
from cases.search.query import Query
from cases.search.results import PredictedFault

MOST_PREDICTED = 5
LEAST_LIKELY = 0.02


def predicted_faults(
    query: Query, posterior: Posterior, numbers: Mapping[str, int]
) -> tuple[PredictedFault, ...]:
    """Return the likeliest faults of the circuit that the readings do not exclude.

    Nothing is predicted without a reading: which fault is likely then, only past cases could say.
    """
    circuit = query.circuit
    before = query.verdict.before if query.verdict is not None else None
    if circuit is None or before is None or not query.slots:
        return ()
    excluded = {finding.suspect for finding in before.findings if finding.outcome == "does not fit"}
    found = []
    for suspect in circuit.suspects:
        place = posterior.place_of(numbers[fault_text(query.circuit_key, suspect)])
        if place is None or suspect in excluded or suspect == HEALTHY:
            continue
        probability = float(posterior.probability[place])
        if probability >= LEAST_LIKELY:
            found.append((-probability, suspect, round(float(posterior.cases[place]), 1)))
    return tuple(
        PredictedFault(
            suspect=suspect,
            words=circuit.suspects[suspect].describe(),
            probability=-less,
            cases=cases,
        )
        for less, suspect, cases in sorted(found)[:MOST_PREDICTED]
    )
