"""What cases do when circuits tell of something."""

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.dispatch import receiver

from cases.services.rejudging import queue_circuit
from circuits.events import revision_published
from circuits.models import Revision


@receiver(revision_published)
def rejudge_in_background(
    sender: Any, *, revision: Revision, by: User, at: datetime, **_: Any
) -> None:
    """Have the cases of the circuit judged once more; a first revision has none."""
    if revision.number > 1:
        queue_circuit(revision)
