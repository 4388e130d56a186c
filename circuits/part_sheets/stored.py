"""The test sheet and the bench sheet of a part in a stored revision, worked out once."""

from functools import lru_cache

from circuits.models import Revision
from circuits.part_sheets.in_vehicle import TestSheet, make_test_sheet
from circuits.part_sheets.on_the_bench import BenchSheet, make_bench_sheet
from circuits.services import REVISIONS_KEPT, network_of, sheet_of


def test_sheet_of(revision: Revision, subject: str) -> TestSheet:
    """Return the first checks of a part in the vehicle.

    Raises
    ------
    NoTestSheet
        The circuit is one that belongs to others, or there is no such part.
    """
    return _test_sheet(revision.pk, subject)


def bench_sheet_of(revision: Revision, subject: str) -> BenchSheet:
    """Return the checks of a part that was taken out.

    Raises
    ------
    NoTestSheet
        As for the test sheet, or the part cannot be judged by itself.
    """
    return _bench_sheet(revision.pk, subject)


# Revisions never change, so a sheet of one holds as long as the process lives.
@lru_cache(maxsize=REVISIONS_KEPT)
def _test_sheet(revision_pk: int, subject: str) -> TestSheet:
    revision = Revision.objects.get(pk=revision_pk)
    return make_test_sheet(sheet_of(revision), network_of(revision), subject)


@lru_cache(maxsize=REVISIONS_KEPT)
def _bench_sheet(revision_pk: int, subject: str) -> BenchSheet:
    revision = Revision.objects.get(pk=revision_pk)
    return make_bench_sheet(sheet_of(revision), network_of(revision), subject)
