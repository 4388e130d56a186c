"""What stored circuits do when a revision of one is published."""

from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.dispatch import receiver

from circuits.acceptances import end_outlived
from circuits.events import revision_published
from circuits.models import Revision


@receiver(revision_published)
def end_what_is_mended(
    sender: Any, *, revision: Revision, by: User, at: datetime, **_: Any
) -> None:
    """End the acceptances of what the new revision no longer has."""
    end_outlived(revision=revision, by=by, at=at)
