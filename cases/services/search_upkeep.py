"""Keep search quick and whole: segments for tails that have grown, evidence and profiles that lack.

None of it changes what is found: what a segment lacks is in the tail. Safe to run twice.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Max

from cases.models import Case, FaultProfile
from cases.search.evidence import write_evidence
from cases.search.profiles import PROFILE_VERSION, keep_profile
from cases.search.segments import (
    LONG_TAIL,
    all_rooms,
    build_segment,
    forget_former_tails,
    rooms_to_build,
)
from cases.services.record import latest_verdict
from circuits.models import Revision

#: A job does so much at a time and leaves the rest to the next.
CASES_AT_ONCE = 500
PROFILES_AT_ONCE = 5


@dataclass(frozen=True, slots=True)
class Upkeep:
    """What was done: rooms built, cases whose evidence was written, circuits with a new profile."""

    rooms: int
    cases: int
    circuits: int


def keep_search_ready(*, at: datetime) -> Upkeep:
    """Do what is due: a bit of everything that lacks, and the rooms whose tail is long."""
    cases = write_missing_evidence(at=at, most=CASES_AT_ONCE)
    circuits = keep_missing_profiles(at=at, most=PROFILES_AT_ONCE)
    return Upkeep(build_rooms(rooms_to_build(), at=at), cases, circuits)


def build_all(*, at: datetime, told: Callable[[str], object] = lambda _: None) -> Upkeep:
    """Write all evidence that lacks, compute all profiles, and build every room anew."""
    cases = write_missing_evidence(at=at)
    circuits = keep_missing_profiles(at=at)
    return Upkeep(build_rooms(all_rooms(), at=at, told=told), cases, circuits)


def build_rooms(
    rooms: Iterable[str], *, at: datetime, told: Callable[[str], object] = lambda _: None
) -> int:
    """Build rooms one after the other, each in a transaction of its own; return how many."""
    built = []
    with_long_tails = rooms_to_build(LONG_TAIL)
    for room in rooms:
        count = build_segment(room, at=at)
        told(f"{room or 'no system'}: {count}")
        built.append(room)
    if with_long_tails:
        forget_former_tails(room for room in built if room in with_long_tails)
    return len(built)


def write_missing_evidence(*, at: datetime, most: int | None = None) -> int:
    """Write the evidence of cases that have none, as after a change of its form."""
    lacking = list(
        Case.objects.filter(evidence__isnull=True)
        .order_by("pk")
        .values_list("pk", flat=True)[:most]
    )
    for pk in lacking:
        with transaction.atomic():
            case = Case.objects.select_for_update(of=("self",)).select_related("shop").get(pk=pk)
            write_evidence(case, latest_verdict(case), at=at)
    return len(lacking)


def keep_missing_profiles(*, at: datetime, most: int | None = None) -> int:
    """Compute the profiles of the newest revisions that have none by this engine."""
    newest = Revision.objects.values("circuit").annotate(newest=Max("pk")).values("newest")
    there = FaultProfile.objects.filter(engine_version=PROFILE_VERSION).values("revision")
    lacking = Revision.objects.filter(pk__in=newest).exclude(pk__in=there).order_by("pk")[:most]
    return sum(keep_profile(revision, at=at) for revision in lacking)
