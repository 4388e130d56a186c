"""What the readings allow: of one suspect, and of all of them side by side."""

from dataclasses import dataclass
from enum import StrEnum

from circuits.engine.faults import Suspect
from circuits.engine.readings import Reading

#: The id of the circuit without a fault, which is always among the suspects.
HEALTHY = "healthy"


class Outcome(StrEnum):
    """What the readings allow a claim."""

    FITS = "fits"
    DOES_NOT_FIT = "does not fit"
    CANNOT_SAY = "cannot say"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What the readings say of one suspect; `suspect` is None for the healthy circuit.

    `severity`, `severity_low` and `severity_high` are in the suspect's unit; infinite added ohms
    are an open. `predicted` and `distance` have one entry for each reading, the distance being
    logged minus predicted in combined standard uncertainties. `model_reach` says for each how far
    the parts' tolerances let the prediction lie from `predicted`, in 99.5 % of all cars, and
    between the two states of a chatter. `deciding` is the number of the reading that decided,
    `watts` the heat in the fault at the best severity, `overloads` the fuses that would not have
    stood its current. Heat and fuses warn; they never exclude.
    """

    suspect: Suspect | None
    outcome: Outcome
    misfit: float
    misfit_limit: float
    severity: float | None
    severity_low: float | None
    severity_high: float | None
    predicted: tuple[float, ...]
    distance: tuple[float, ...]
    deciding: int | None
    because: str
    watts: float | None = None
    overloads: tuple[str, ...] = ()
    model_reach: tuple[float, ...] = ()

    @property
    def id(self) -> str:
        return self.suspect.id if self.suspect is not None else HEALTHY

    @property
    def passes(self) -> bool:
        return self.misfit <= self.misfit_limit


class Explains(StrEnum):
    """Which of two faults a reading is explained by."""

    FIRST = "first"
    SECOND = "second"
    EITHER = "either"
    TOGETHER = "together"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubleFinding:
    """Two faults that fit together where no single one does, at their best severities.

    `predicted` and `explained` have one entry for each reading: what both faults predict, and
    which of them answers for it (neither, where a healthy circuit reads the same).
    """

    first: Suspect
    second: Suspect
    first_severity: float
    second_severity: float
    misfit: float
    misfit_limit: float
    predicted: tuple[float, ...]
    explained: tuple[Explains, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A reading without which something fits: `reading` is its number, `fits` what fits the rest.

    `predicted` is what the best of those would read in its stead.
    """

    reading: int
    fits: tuple[str, ...]
    predicted: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Twins:
    """Suspects that no listed place can part, and the places between them that would."""

    suspect_ids: tuple[str, ...]
    between: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """The listed reading that parts two groups of suspects best."""

    first: str
    second: str
    phase: str
    place: str
    first_value: float
    second_value: float
    distance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What the readings allow: the claim, healthy, and every other suspect, best first.

    Where nothing fits, `slips` are the readings of which one alone stands in the way, and
    `doubles` the pairs of faults that fit, if they were asked for. `readings` are those that were
    judged; those in `set_aside` were taken without the symptom and read as in a healthy circuit,
    which says nothing of a fault that comes and goes.
    """

    claim: Finding | None
    healthy: Finding
    findings: tuple[Finding, ...]
    twins: tuple[Twins, ...]
    partings: tuple[Parting, ...]
    readings: tuple[Reading, ...]
    notes: tuple[str, ...]
    slips: tuple[Slip, ...] = ()
    doubles: tuple[DoubleFinding, ...] = ()
    set_aside: tuple[Reading, ...] = ()

    @property
    def outcome(self) -> Outcome | None:
        return self.claim.outcome if self.claim is not None else None

    @property
    def nothing_fits(self) -> bool:
        return not self.healthy.passes and not any(finding.passes for finding in self.findings)

    @property
    def fitting(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.passes)
