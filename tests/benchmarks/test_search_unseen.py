"""How well search tells that no past case had this fault; told, not asserted."""

import numpy as np
import pytest

from cases.search.scope import scope_of
from cases.search.segments import all_rooms
from cases.search.similar import find_similar
from cases.services.search_upkeep import build_rooms
from tests.judges.agreement import needs_ngspice
from tests.search_world.loading import NOW, Loader
from tests.search_world.unseen import area_under_curve, judged_cars, unseen_faults, without
from tests.search_world.world import World

CASES, CARS = 30_000, 250
FEWEST_READINGS = 3
# None of these seeds was used when the ways to tell were compared.
CASE_SEED, FAULT_SEED, CAR_SEED = 1501, 1502, 150_300


@pytest.mark.long
@pytest.mark.django_db
@needs_ngspice
def test_a_fault_that_nobody_had(capsys: pytest.CaptureFixture[str]) -> None:
    world = World(CASE_SEED)
    unseen = unseen_faults(world, np.random.default_rng(FAULT_SEED))
    loader = Loader(world)
    loader.load([without(drawn, unseen[drawn.circuit]) for drawn in world.cases(CASES)])
    build_rooms(all_rooms(), at=NOW)
    scope = scope_of(loader.user)
    told = []
    for car in judged_cars(world, unseen, CARS, CAR_SEED):
        found = find_similar(car.query, scope, at=NOW)
        if found.unseen is not None and found.outside is not None:
            told.append((car, found.unseen, found.outside))
    lines = []
    for fewest in (1, FEWEST_READINGS):
        some = [entry for entry in told if entry[0].readings >= fewest]
        strange = [entry for entry in some if entry[0].is_unseen]
        known = [entry for entry in some if not entry[0].is_unseen]
        by_misfit = area_under_curve([each[1] for each in strange], [each[1] for each in known])
        by_bins = area_under_curve([each[2] for each in strange], [each[2] for each in known])
        lines.append(
            f"no past case had it, {fewest} readings or more: AUROC {by_misfit:.3f} by the"
            f" engine's misfit, codes and words (aim 0.90), {by_bins:.3f} by past cases alone;"
            f" {len(strange)} such cars and {len(known)} others"
        )
    with capsys.disabled():
        print("", *lines, sep="\n")  # noqa: T201

    assert len(lines) == 2
