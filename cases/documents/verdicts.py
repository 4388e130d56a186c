"""The form in which a verdict travels, and is kept; infinite ohms are the text "Infinity"."""

from typing import Annotated, Final, Literal

from pydantic import (
    BeforeValidator,
    Field,
)

from cases.documents.base import (
    Document,
    NamedDocument,
    OutcomeWord,
)
from cases.documents.codes import CodeEvidence, CodeSet
from cases.documents.looks import LookAt, MendedSlip, OtherRule
from cases.documents.readings import Rig
from cases.models.choices import (
    Statistic,
)
from circuits.documents.base import Unbounded

VERDICT_SCHEMA: Final = "copperlog-verdict/2"


# The first form knew no slips, no pairs and no symptom; all of these may be left out.
FIRST_VERDICT_SCHEMA: Final = "copperlog-verdict/1"


def _newest_form(schema: object) -> object:
    return VERDICT_SCHEMA if schema == FIRST_VERDICT_SCHEMA else schema


class Chatter(Document):
    """A reading that has no steady figure: a relay lets go, pulls in, and lets go again.

    That is so from `severity_low` to `severity_high` of the fault, in its own unit; the reading
    `number` is then anywhere from `low` to `high`, in the base unit of its place.
    """

    number: int
    severity_low: Unbounded
    severity_high: Unbounded
    low: Unbounded
    high: Unbounded


class FindingDocument(Document):
    """What the readings say about one suspect; `suspect` is "healthy" for the car in order.

    `predicted` and `distance` run in parallel with the readings of the judgement; distance is
    logged minus predicted in combined standard uncertainties, and `model_reach` how far the parts'
    tolerances let the prediction lie from `predicted`. `deciding` is the number of the reading
    that decided. `watts` is the heat in the fault and `overloads` the fuses that would
    not have stood its current: warnings, never a reason to exclude.

    Of the claim alone: `least_seen` is, where the readings cannot say, the mildest severity that
    each of them could have shown (null where none shows), and `chatter` where the circuit would
    not come to rest.
    """

    suspect: str
    words: str
    outcome: OutcomeWord
    misfit: Unbounded
    misfit_limit: Unbounded
    severity: Unbounded | None = None
    severity_low: Unbounded | None = None
    severity_high: Unbounded | None = None
    severity_unit: str = ""
    severity_words: str = ""
    watts: Unbounded | None = None
    overloads: tuple[str, ...] = ()
    predicted: tuple[Unbounded, ...] = ()
    distance: tuple[Unbounded, ...] = ()
    model_reach: tuple[Unbounded, ...] = ()
    deciding: int | None = None
    because: str = ""
    least_seen: tuple[Unbounded | None, ...] = ()
    chatter: tuple[Chatter, ...] = ()


class JudgedReading(Document):
    """A reading that was judged. `noted` marks the supply volts written beside another reading.

    `meter_reach` is how far the meter may be off; verdicts of older engines do not tell.
    """

    number: int
    place: str
    phase: str
    text: str = ""
    value: float
    loaded: bool = True
    rig: Rig = Rig()
    noted: bool = False
    statistic: Statistic = Statistic.STEADY
    meter_reach: Unbounded | None = None


class SetAside(Document):
    """A reading that speaks neither for nor against a fault, and why."""

    number: int
    place: str
    phase: str
    text: str = ""
    because: str


class TwinGroup(Document):
    """Suspects that no listed place can part, and the connections between them that would.

    `clamps` are parts round which the current parts the claim from a twin that no lead does.
    """

    suspects: tuple[str, ...]
    between: tuple[str, ...] = ()
    clamps: tuple[str, ...] = ()


class PartingReading(Document):
    """The reading that parts two suspects best, and what each would show there."""

    first: str
    second: str
    phase: str
    place: str
    first_value: Unbounded
    second_value: Unbounded
    distance: Unbounded


class SlipDocument(Document):
    """A reading without which something fits, where nothing fits them all.

    It is reading `number`, kept as it was typed. `value` and `predicted`, what the best of those
    in `fits` would show in its stead, are in the unit of the place. `noted` as for the reading.
    """

    number: int
    place: str
    phase: str
    text: str = ""
    noted: bool = False
    value: Unbounded
    predicted: Unbounded
    fits: tuple[str, ...]


class PairedFault(Document):
    """One of two faults that fit together, at its best severity."""

    suspect: str
    words: str
    severity: Unbounded
    severity_unit: str = ""
    severity_words: str = ""


class PairDocument(Document):
    """Two faults that fit together where no single one does.

    `predicted` and `explained` run in parallel with the readings of the judgement: what both
    would show, and which of them answers for the reading; `neither` is as in the car in order.
    """

    first: PairedFault
    second: PairedFault
    misfit: Unbounded
    misfit_limit: Unbounded
    predicted: tuple[Unbounded, ...]
    explained: tuple[Literal["first", "second", "either", "together", "neither"], ...]


class Judgement(Document):
    """What one set of readings says: the claim, the car in order, and every other suspect.

    `without_symptom` are the numbers of readings taken without the symptom that the car in order
    explains: they are not judged. Where they are all there is, the claim cannot be told from
    anything and no finding is listed. Where nothing fits, `slips` are single readings that stand
    in the way, and `pairs` two faults at once; null means that they were not looked for yet. With
    them come `mended`, what a reading may have been meant as, and `other_rules` of the drawing;
    `mended` also where a fault fits, because a slip may have made it look like one.
    """

    readings: tuple[JudgedReading, ...]
    claim: FindingDocument | None = None
    healthy: FindingDocument
    findings: tuple[FindingDocument, ...] = ()
    twins: tuple[TwinGroup, ...] = ()
    partings: tuple[PartingReading, ...] = ()
    nothing_fits: bool = False
    notes: tuple[str, ...] = ()
    without_symptom: tuple[int, ...] = ()
    slips: tuple[SlipDocument, ...] = ()
    pairs: tuple[PairDocument, ...] | None = None
    mended: tuple[MendedSlip, ...] = ()
    other_rules: tuple[OtherRule, ...] = ()

    @property
    def lacks_second_look(self) -> bool:
        """Whether slips and pairs are still to be looked for: nothing fits that one can believe."""
        if self.pairs is not None or self.healthy.outcome != "does not fit":
            return False
        fitting = [finding for finding in self.findings if finding.outcome != "does not fit"]
        return self.nothing_fits or (bool(fitting) and all(each.overloads for each in fitting))

    @property
    def lacks_pairs(self) -> bool:
        """Whether pairs of faults are still to be looked for."""
        return self.nothing_fits and self.pairs is None


class VerdictDocument(NamedDocument):
    """What the circuit says about a case.

    `before` judges the readings from before the repair against every fault, `after` those from
    after it against the car in order and the claim. `own` holds the same for the readings taken
    here, where others came with a copy. `failure` says why nothing could be judged. `codes` says
    what each code makes of the suspects, `code_set` what those that are set share. Where nothing
    fits, `look_at` says what to look at, in that order, and what speaks for it.
    """

    schema_name: Annotated[
        Literal["copperlog-verdict/2"], BeforeValidator(_newest_form), Field(alias="schema")
    ] = VERDICT_SCHEMA
    engine_version: str
    claim: str = ""
    outcome: OutcomeWord | Literal[""] = ""
    before: Judgement | None = None
    after: Judgement | None = None
    set_aside: tuple[SetAside, ...] = ()
    failure: str = ""
    codes: tuple[CodeEvidence, ...] = ()
    code_set: CodeSet | None = None
    look_at: tuple[LookAt, ...] = ()
    own: "VerdictDocument | None" = None


class AnswerDocument(Document):
    """How an exercise was answered: the verdict on the fault that was named, and the rivals.

    `claim` is what the case itself claims; a twin of it could not be told from it.
    """

    named: str
    outcome: OutcomeWord | Literal[""]
    because: str
    rivals: tuple[str, ...]
    claim: str
    is_the_claim: bool
    is_a_twin_of_the_claim: bool
    verdict: VerdictDocument
