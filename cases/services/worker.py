"""Whether somebody is there to do what waits in the queue."""

from datetime import timedelta

from django.db.models.functions import Now
from procrastinate.contrib.django.models import ProcrastinateWorker

#: How the queue calls a job that waits or is in somebody's hand.
ON_ITS_WAY = ("todo", "doing")
#: A worker gives a sign of life every ten seconds; one that is started anew is back within this.
_SILENT_AFTER = timedelta(minutes=1)


def has_worker() -> bool:
    """Whether a worker is alive. Queries the queue."""
    alive = ProcrastinateWorker.objects.filter(last_heartbeat__gte=Now() - _SILENT_AFTER)
    return alive.exists()
