"""Load the demo through the services that users call.

Each shop, circuit, case and exercise is one transaction and is left alone where it is there
already, so an interrupted load goes on where it stopped and a second one changes nothing.
"""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

import circuits
from cases.after_work import after_lines
from cases.demo.pictures import picture_of
from cases.demo.stories import (
    CaseStory,
    ExerciseStory,
    PhotoStory,
    ReferenceStory,
    Setting,
    ShopStory,
    WalkStory,
    read_cases,
    read_setting,
    read_walks,
)
from cases.models import Case, Exercise, Photo, Role, Shop
from cases.services.after_work import tick_after_work
from cases.services.cases import claim_fault, log_case, record_repair, withdraw_case
from cases.services.exercises import open_exercise
from cases.services.photos import add_photo, tag_photo
from cases.services.readings import add_readings
from cases.services.record import current_readings, line_of
from cases.services.sharing import share_case
from cases.services.shops import add_member, open_shop, set_hold_days
from circuits.acceptances import accept_finding
from circuits.models import Circuit, Reference
from circuits.on_vehicles.references import keep_reference
from circuits.services import latest_revision, publish_revision
from circuits.sheet import read_text
from circuits.walks import write_walk

#: Everyone in the demo signs in with this, which is why a demo belongs on one's own machine only.
DEMO_PASSWORD = "copperlog-demo"

Progress = Callable[[str], object]

LIBRARY = Path(circuits.__file__).parent / "library"

OPENED_BEFORE_THE_FIRST_CASE = timedelta(days=20)
# A working day: when it starts, and what happens how long after a case was opened.
MORNING_HOUR = 7
READINGS_AFTER = timedelta(minutes=40)
CLAIM_AFTER = timedelta(minutes=70)
REPAIR_AFTER = timedelta(hours=4)
READ_AGAIN_AFTER = timedelta(hours=5)
SHARED_AFTER = timedelta(hours=26)
WITHDRAWN_AFTER = timedelta(days=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignIn:
    """A person of the demo, as the demo command shows them."""

    username: str
    name: str
    shop: str
    role: str


def sign_ins() -> tuple[SignIn, ...]:
    """Return who can sign in; the password is `DEMO_PASSWORD` for all of them."""
    setting = read_setting()
    names = {
        person.username: f"{person.first_name} {person.last_name}" for person in setting.person
    }
    return tuple(
        SignIn(username=username, name=names[username], shop=shop.name, role=role)
        for shop in setting.shop
        for username, role in _members(shop)
    )


def load(*, progress: Progress = lambda _: None, now: datetime | None = None) -> None:
    """Load what is missing of the demo; `progress` is told in a line what is being loaded."""
    now = now or timezone.now()
    setting, stories = read_setting(), read_cases()
    began_at = _morning(now, stories[0].days_ago) - OPENED_BEFORE_THE_FIRST_CASE
    _load_people_and_shops(setting, at=began_at, progress=progress)
    _load_circuits(by=_user(setting.shop[0].owner), at=began_at, progress=progress)
    _load_references(setting.reference, at=began_at)
    _load_photos(setting.photo, at=began_at, progress=progress)
    _load_walks(read_walks(), at=began_at)
    _load_cases(stories, now=now, progress=progress)
    _load_exercises(setting.exercise, stories, now=now, progress=progress)


# ---------------------------------------------------------------------------------- people


def _load_people_and_shops(setting: Setting, *, at: datetime, progress: Progress) -> None:
    progress("Shops and people")
    with transaction.atomic():
        for person in setting.person:
            if not User.objects.filter(username=person.username).exists():
                User.objects.create_user(password=DEMO_PASSWORD, **person.model_dump())
    for shop in setting.shop:
        if not Shop.objects.filter(slug=shop.slug).exists():
            _load_shop(shop, at=at)


@transaction.atomic
def _load_shop(story: ShopStory, *, at: datetime) -> None:
    owner = _user(story.owner)
    shop = open_shop(name=story.name, slug=story.slug, by=owner, at=at)
    set_hold_days(shop=shop, days=story.hold_days, by=owner)
    for username, role in _members(story):
        if role != Role.OWNER:
            add_member(shop=shop, user=_user(username), role=role, by=owner, at=at)


def _members(story: ShopStory) -> list[tuple[str, str]]:
    return [
        (story.owner, Role.OWNER),
        *((username, Role.TRAINER) for username in story.trainers),
        *((username, Role.TECHNICIAN) for username in story.technicians),
    ]


def _user(username: str) -> User:
    return User.objects.get(username=username)


# ------------------------------------------------------------------------- circuits, cases


def _load_circuits(*, by: User, at: datetime, progress: Progress) -> None:
    files = sorted(LIBRARY.glob("*.txt"))
    accepted = tomllib.loads((LIBRARY / "accepted.toml").read_text(encoding="utf-8"))
    for number, file in enumerate(files, start=1):
        sheet = read_text(file.read_text(encoding="utf-8"))
        if Circuit.objects.filter(key=sheet.vehicle.key).exists():
            continue
        progress(f"Circuit {number} of {len(files)}: {sheet.vehicle.title}")
        with transaction.atomic():
            circuit = publish_revision(sheet=sheet, note="First drawing.", by=by, at=at).circuit
            for finding_id, reason in accepted.get(circuit.key, {}).items():
                accept_finding(circuit=circuit, finding_id=finding_id, reason=reason, by=by, at=at)


def _load_references(references: Sequence[ReferenceStory], *, at: datetime) -> None:
    for story in references:
        circuit = Circuit.objects.get(key=story.circuit)
        known = Reference.objects.filter(
            revision__circuit=circuit,
            place=story.place,
            phase=story.phase,
            vehicle=story.vehicle,
        )
        if not known.exists():
            keep_reference(
                circuit=circuit,
                place=story.place,
                phase=story.phase,
                reading=story.reading,
                vehicle=story.vehicle,
                by=_user(story.by),
                at=at,
            )


def _load_photos(photos: Sequence[PhotoStory], *, at: datetime, progress: Progress) -> None:
    for story in photos:
        shop, circuit = Shop.objects.get(slug=story.shop), Circuit.objects.get(key=story.circuit)
        if Photo.objects.filter(shop=shop, circuit=circuit, caption=story.caption).exists():
            continue
        progress(f"Picture: {story.caption}")
        picture, by = picture_of(story.picture), _user(story.by)
        with transaction.atomic():
            photo = add_photo(
                shop=shop,
                circuit=circuit,
                content=picture.content,
                caption=story.caption,
                is_own=True,
                is_shared=story.shared,
                by=by,
                at=at,
            )
            tags = {place: picture.spots[spot] for place, spot in story.tags.items()}
            tag_photo(photo=photo, tags=tags, by=by)


def _load_walks(walks: Sequence[WalkStory], *, at: datetime) -> None:
    for story in walks:
        circuit = Circuit.objects.get(key=story.circuit)
        if not circuit.walks.filter(title=story.title).exists():
            write_walk(
                circuit=circuit,
                title=story.title,
                steps=[step.step for step in story.step],
                by=_user(story.by),
                at=at,
            )


def _load_cases(stories: Sequence[CaseStory], *, now: datetime, progress: Progress) -> None:
    for number, story in enumerate(stories, start=1):
        with transaction.atomic():
            # Locked, so that two loads at once do not log a case twice.
            shop = Shop.objects.select_for_update().get(slug=story.shop)
            if _case_of(story) is None:
                progress(f"Case {number} of {len(stories)}: {story.complaint}")
                _load_case(story, shop, stories, now=now)


def _case_of(story: CaseStory) -> Case | None:
    """Return the case of a story, if it is loaded: no shop sees the same plate twice here."""
    return Case.objects.filter(shop__slug=story.shop, vehicle__plate=story.vehicle.plate).first()


def _load_case(
    story: CaseStory, shop: Shop, stories: Sequence[CaseStory], *, now: datetime
) -> None:
    by, opened_at = _user(story.by), _morning(now, story.days_ago)
    case = log_case(
        shop=shop,
        facts=story.facts,
        revision=latest_revision(Circuit.objects.get(key=story.circuit)),
        comeback_of=_told_case(story.comeback_of, stories),
        copied_from=_told_case(story.copied_from, stories),
        by=by,
        at=opened_at,
    )
    if story.before:
        readings = story.readings_before
        add_readings(case=case, readings=readings, by=by, at=opened_at + READINGS_AFTER)
    if story.claim:
        claim_fault(case=case, suspect=story.claim, by=by, at=opened_at + CLAIM_AFTER)
    if story.repair is not None:
        record_repair(case=case, repair=story.repair, by=by, at=opened_at + REPAIR_AFTER)
    if story.after:
        readings = story.readings_after
        add_readings(case=case, readings=readings, by=by, at=opened_at + READ_AGAIN_AFTER)
        _undo_everything(case, by=by, at=opened_at + READ_AGAIN_AFTER)
    if story.shared:
        share_case(case=case, by=by, at=opened_at + SHARED_AFTER)
    if story.withdrawn:
        withdraw_case(case=case, reason=story.withdrawn, by=by, at=opened_at + WITHDRAWN_AFTER)


def _undo_everything(case: Case, *, by: User, at: datetime) -> None:
    """Tick off what the readings took apart: these shops put everything back before they drive."""
    for line in after_lines(case, [line_of(reading) for reading in current_readings(case)]):
        tick_after_work(case=case, key=line.key, done=True, by=by, at=at)


def _told_case(number: int | None, stories: Sequence[CaseStory]) -> Case | None:
    if number is None:
        return None
    story = next(story for story in stories if story.story == number)
    return Case.objects.get(shop__slug=story.shop, vehicle__plate=story.vehicle.plate)


def _load_exercises(
    exercises: Sequence[ExerciseStory],
    stories: Sequence[CaseStory],
    *,
    now: datetime,
    progress: Progress,
) -> None:
    for exercise in exercises:
        case = _told_case(exercise.story, stories)
        shop = Shop.objects.get(slug=exercise.shop)
        if case is None or Exercise.objects.filter(case=case, shop=shop).exists():
            continue
        progress(f"Exercise: {case.complaint}")
        open_exercise(case=case, shop=shop, by=_user(exercise.by), at=now)


def _morning(now: datetime, days_ago: int) -> datetime:
    day = now - timedelta(days=days_ago)
    return day.replace(hour=MORNING_HOUR, minute=30, second=0, microsecond=0)
