"""The form in which likely faults and proposed readings travel: REST and commands use it."""

from typing import Annotated, Final, Literal

from pydantic import Field

from cases.documents.base import Document, NamedDocument, NoLessThanZero
from cases.documents.readings import Rig

NEXT_SCHEMA: Final = "copperlog-next/1"


class Prices(Document):
    """What an hour of work costs, and the part fitted, in whatever money both are given in."""

    hour_price: NoLessThanZero
    part_price: NoLessThanZero


class Worth(Document):
    """What a reading costs, and what it saves on average of the price of a wrong part."""

    costs: float
    saves: float


class LikelySuspect(Document):
    """Suspects that no reading parts, and how likely it is one of them; "healthy": in order.

    `share_low` to `share_high` is the 95 % interval of their share of the circuit's cases.
    """

    suspects: tuple[str, ...]
    words: str
    probability: float
    cases: int = Field(default=0, description="Verified cases of this circuit that were one.")
    of_cases: int = Field(default=0, description="Verified cases of this circuit altogether.")
    share_low: float | None = None
    share_high: float | None = None
    vehicle_cases: int = Field(default=0, description="Of `cases`: in the same make and model.")


class OutcomeSide(Document):
    """What it would mean to read on this side of the limit, and how likely that is."""

    probability: float
    suspects: tuple[LikelySuspect, ...]


class ProposedReading(Document):
    """A reading worth taking: where, in which phase, with what done, and what it would tell.

    `bits` is the expected drop of uncertainty over the suspects. `wrong_now` is how often whoever
    names the likeliest suspects now is wrong, `wrong_after` how often still after this reading.
    `worth` is told where prices were. `instrument` is the name of an own one that it is meant for.
    """

    place: str
    label: str
    red: str
    black: str
    phase: str
    phase_words: str
    rig: Rig = Rig()
    access: str = ""
    instrument: str = ""
    minutes: float
    bits: float
    limit: float
    unit: str
    below: OutcomeSide
    above: OutcomeSide
    wrong_now: float
    wrong_after: float
    worth: Worth | None = None
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
