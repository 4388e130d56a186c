"""The demo's story as it is written down: shops, people, cases and so on, from TOML files.

Nobody and no make in it exists. A case's moments are counted back from the day on which it is
loaded, so that the demo is as fresh as its reader.
"""

import tomllib
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, StringConstraints

from cases.demo.pictures import PictureName
from cases.documents.base import Document
from cases.documents.cases import CaseFacts, Repair
from cases.documents.readings import NewReading
from cases.models.choices import Stage, SymptomPresent
from circuits.walks import Step

FOLDER = Path(__file__).parent

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9-]*$")]
AtLeastOne = Annotated[int, Field(ge=1)]


class PersonStory(Document):
    """Someone who works or learns in a shop of the demo."""

    username: Slug
    first_name: str
    last_name: str


class ShopStory(Document):
    """A shop and who is what in it, by their usernames."""

    slug: Slug
    name: str
    owner: Slug
    trainers: tuple[Slug, ...] = ()
    technicians: tuple[Slug, ...] = ()
    hold_days: AtLeastOne


class ExerciseStory(Document):
    """A shared case that a trainer sets for a class; `story` is the number of the case."""

    story: AtLeastOne
    shop: Slug
    by: Slug


class ReferenceStory(Document):
    """What a healthy vehicle showed, kept with its circuit."""

    circuit: Slug
    place: str
    phase: str
    reading: str
    vehicle: str
    by: Slug


class PhotoStory(Document):
    """A picture of a part, kept with its circuit; `tags` are its spots by the circuit's places."""

    circuit: Slug
    shop: Slug
    by: Slug
    picture: PictureName
    caption: str
    shared: bool = False
    tags: dict[str, str]


class StepStory(Document):
    """A state of the drawing and its sentence; left out: at rest, healthy, no pin."""

    sentence: str
    phase: str = ""
    suspect: str = ""
    severity: str = ""
    pin: str = ""

    @property
    def step(self) -> Step:
        return Step(**self.model_dump())


class WalkStory(Document):
    """A walk-through of a circuit, as one person explains it."""

    circuit: Slug
    title: str
    by: Slug
    step: tuple[StepStory, ...]


class Setting(Document):
    """Who there is, what healthy vehicles showed, what parts look like, what the class works on."""

    shop: tuple[ShopStory, ...]
    person: tuple[PersonStory, ...]
    reference: tuple[ReferenceStory, ...]
    photo: tuple[PhotoStory, ...]
    exercise: tuple[ExerciseStory, ...]


class CaseStory(CaseFacts):
    """One job: what was told, read, claimed and done.

    `story` is its number in the demo, by which other cases refer to it. `symptom_present` holds
    for the readings before the repair that do not say otherwise.
    """

    story: AtLeastOne
    days_ago: AtLeastOne
    shop: Slug
    by: Slug
    circuit: Slug
    symptom_present: SymptomPresent = SymptomPresent.UNKNOWN
    before: tuple[NewReading, ...] = ()
    claim: str = ""
    repair: Repair | None = None
    after: tuple[NewReading, ...] = ()
    comeback_of: int | None = None
    copied_from: int | None = None
    shared: bool = False
    withdrawn: str = ""

    @property
    def facts(self) -> CaseFacts:
        """The facts alone, as a person tells them when the case is opened."""
        return CaseFacts(**{name: getattr(self, name) for name in CaseFacts.model_fields})

    @property
    def readings_before(self) -> tuple[NewReading, ...]:
        return tuple(
            reading
            if "symptom_present" in reading.model_fields_set
            else reading.model_copy(update={"symptom_present": self.symptom_present})
            for reading in self.before
        )

    @property
    def readings_after(self) -> tuple[NewReading, ...]:
        """The readings after the repair, with the symptom provoked again and not there."""
        changes = {"stage": Stage.AFTER, "symptom_present": SymptomPresent.NO}
        return tuple(reading.model_copy(update=changes) for reading in self.after)


def read_setting() -> Setting:
    """Return the shops, the people, and what is there beside the cases."""
    return Setting.model_validate(_read(FOLDER / "setting.toml"))


def read_walks() -> tuple[WalkStory, ...]:
    """Return the walk-throughs in the order in which they were written."""
    told = _read(FOLDER / "walks.toml")
    return tuple(map(WalkStory.model_validate, told["walk"]))


def read_cases() -> tuple[CaseStory, ...]:
    """Return the cases in the order in which they happened."""
    stories = [
        CaseStory.model_validate({"circuit": told["circuit"], **case})
        for told in map(_read, sorted((FOLDER / "stories").glob("*.toml")))
        for case in told["case"]
    ]
    return tuple(sorted(stories, key=lambda story: (-story.days_ago, story.story)))


def _read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))
