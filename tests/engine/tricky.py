"""Readings of the reference circuits as a technician logs them, for the tricky situations."""

from typing import Any

from circuits.engine import Finding, Reading, Verdict, judge
from tests.circuits.reference_networks import reference_circuit

PRIME = "ignition on, prime (first 2 s)"


def logged(circuit: str, phase: str, *, step: float | None = None, **shown: float) -> list[Reading]:
    """Return readings by place, in base units; the last digit is that of a 6000-count display."""
    reference = reference_circuit(circuit)
    return [
        Reading(
            place=reference.row(key).place,
            phase=phase,
            value=value,
            step=step or (0.001 if abs(value) < 6 else 0.01),
            rig=reference.row(key).rig(reference.network),
        )
        for key, value in shown.items()
    ]


def verdict_on(circuit: str, readings: list[Reading], claim: str, **options: Any) -> Verdict:
    reference = reference_circuit(circuit)
    return judge(reference.network, readings, claim=claim, places=reference.places, **options)


def claim_of(verdict: Verdict) -> Finding:
    assert verdict.claim is not None
    return verdict.claim


def fitting_ids(verdict: Verdict) -> set[str]:
    return {finding.id for finding in verdict.fitting}
