"""The form in which likely faults and proposed readings travel: REST and commands use it."""

from typing import Annotated, Final, Literal

from pydantic import Field

from cases.documents.base import Document, NamedDocument
from cases.documents.readings import Rig

NEXT_SCHEMA: Final = "copperlog-next/1"


class LikelySuspect(Document):
    """Suspects that no reading parts, and how likely it is one of them; "healthy": in order."""

    suspects: tuple[str, ...]
    words: str
    probability: float
    cases: int = Field(default=0, description="Verified cases of this circuit that were one.")


class OutcomeSide(Document):
    """What it would mean to read on this side of the limit, and how likely that is."""

    probability: float
    suspects: tuple[LikelySuspect, ...]


class ProposedReading(Document):
    """A reading worth taking: where, in which phase, with what done, and what it would tell.

    `bits` is the expected drop of uncertainty over the suspects. `wrong_now` is how often whoever
    names the likeliest suspects now is wrong, `wrong_after` how often still after this reading.
    """

    place: str
    label: str
    red: str
    black: str
    phase: str
    phase_words: str
    rig: Rig = Rig()
    access: str = ""
    minutes: float
    bits: float
    limit: float
    unit: str
    below: OutcomeSide
    above: OutcomeSide
    wrong_now: float
    wrong_after: float
    cautions: tuple[str, ...] = ()


class NextReadings(NamedDocument):
    """How likely each suspect is by now, and the readings that would tell most for their minutes.

    `outside` is how likely it is something that the drawing does not hold.
    """

    schema_name: Annotated[Literal["copperlog-next/1"], Field(alias="schema")] = NEXT_SCHEMA
    likely: tuple[LikelySuspect, ...]
    outside: float
    readings: tuple[ProposedReading, ...]
    precedence: str
