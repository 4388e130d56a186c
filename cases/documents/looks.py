"""The form in which 'nothing fits' travels: what to look at, in order, and what speaks for each."""

from enum import StrEnum

from pydantic import Field

from cases.documents.base import Document
from circuits.documents.base import Unbounded


class Look(StrEnum):
    """What to look at where nothing fits, in this order: the likeliest and cheapest first."""

    READING = "reading slip"
    PLACE = "phase or place slip"
    DRAWING = "drawing"
    OUTSIDE = "part outside the model"
    PAIR = "two faults"
    COMES_AND_GOES = "intermittent"


#: What to ask of each.
QUESTIONS = {
    Look.READING: "Is one reading mistyped, or its unit?",
    Look.PLACE: "Was it another place or another phase?",
    Look.DRAWING: "Is it the right drawing for this car?",
    Look.OUTSIDE: "Is the cause a part the drawing leaves out?",
    Look.PAIR: "Are there two faults?",
    Look.COMES_AND_GOES: "Does the fault come and go?",
}


class LookAt(Document):
    """One thing to look at, and what of the record speaks for it; often nothing does."""

    look: Look
    speaks: tuple[str, ...] = ()


class Witness(Document):
    """A reading that tells two phases apart.

    `as_meant` are the volts of a sound circuit in the phase that was perhaps meant, `as_written`
    what comes nearest to them in the phase as written, of all the faults that fit.
    """

    place: str
    as_written: Unbounded
    as_meant: Unbounded


class MendedSlip(Document):
    """A reading that makes the case whole if it was meant otherwise.

    It is reading `number`, kept as it was typed; `value` is in the base unit of the place where it
    would have been taken. `fits` are the suspects that then fit, "healthy" for the car in order,
    the best of them with `misfit`, to be held against `misfit_limit`.
    `witness` is a reading that would tell the phases apart, where it is a phase that is doubted.
    """

    number: int
    kind: str = Field(description="What may have gone wrong, in words.")
    moved: bool = Field(description="Whether it was another place or phase, not another figure.")
    place: str
    phase: str
    value: Unbounded
    fits: tuple[str, ...]
    misfit: Unbounded | None = None
    misfit_limit: Unbounded | None = None
    witness: Witness | None = None


class OtherRule(Document):
    """An assumed rule of the drawing that, taken the other way, lets something fit."""

    part: str
    words: str
    fits: tuple[str, ...]
