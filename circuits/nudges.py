"""Positions of parts in the drawing, moved by hand and kept with the circuit."""

from collections.abc import Mapping
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from circuits.errors import TooFar, UnknownPart
from circuits.models import FARTHEST, Circuit, Nudge
from circuits.services import latest_revision, sheet_of


def nudges_of(circuit: Circuit) -> dict[str, tuple[int, int]]:
    """Return the parts that were moved: steps to the right, rows down."""
    moved = circuit.nudges.values_list("part", "steps_right", "rows_down")
    return {part: (right, down) for part, right, down in moved}


@transaction.atomic
def nudge_part(
    *, circuit: Circuit, part: str, right: int, down: int, by: User, at: datetime
) -> Mapping[str, tuple[int, int]]:
    """Move a part by some steps and rows from where it is; back home, nothing is kept of it.

    Raises
    ------
    UnknownPart
        The newest revision has no such part.
    TooFar
        It would leave the sheet of paper.
    """
    names = [each.name for each in sheet_of(latest_revision(circuit)).parts]
    if part not in names:
        raise UnknownPart(part, names)
    Circuit.objects.select_for_update().get(pk=circuit.pk)
    before = nudges_of(circuit).get(part, (0, 0))
    moved = before[0] + right, before[1] + down
    if max(abs(moved[0]), abs(moved[1])) > FARTHEST:
        raise TooFar(part, FARTHEST)
    if moved == (0, 0):
        circuit.nudges.filter(part=part).delete()
    else:
        Nudge.objects.update_or_create(
            circuit=circuit,
            part=part,
            defaults={
                "steps_right": moved[0],
                "rows_down": moved[1],
                "moved_by": by,
                "moved_at": at,
            },
        )
    return nudges_of(circuit)


@transaction.atomic
def put_all_back(*, circuit: Circuit, by: User) -> int:
    """Let the layout place every part again; return how many had been moved."""
    Circuit.objects.select_for_update().get(pk=circuit.pk)
    return circuit.nudges.all().delete()[0]
