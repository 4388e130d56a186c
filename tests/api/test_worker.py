"""The worker on a real queue: it does what waits, and takes up what a killed one had in hand.

Common practice, no source.
"""

from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.db import connection
from procrastinate.contrib.django import app
from procrastinate.contrib.django.models import ProcrastinateJob

from cases.services.rejudging import REJUDGE_CIRCUIT
from tests.cast import FEED_FAULT, FEED_READINGS, call_cast, logged, publish
from tests.jobs import empty_queue
from tests.redrawn import POOR_JOINTS, redrawn


@pytest.fixture
def queue(transactional_db: None, monkeypatch) -> Iterator[None]:
    """The queue of the test's database, empty before and after; no test may leave jobs there."""
    # The worker's thread keeps no connection that would hold the test's database open.
    monkeypatch.setitem(connection.settings_dict, "CONN_MAX_AGE", 0)
    empty_queue()
    yield
    empty_queue()


@pytest.mark.slow  # a database that others see has to be filled and emptied
def test_the_worker_does_what_waits_and_what_a_killed_one_left(queue) -> None:
    cast = call_cast()
    fuel_pump = publish("fuel_pump.txt", by=cast.technician)
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    # As a worker leaves it that was killed with the job in its hand.
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_jobs SET status = 'doing', worker_id = NULL")
    assert [job.task_name for job in ProcrastinateJob.objects.all()] == [REJUDGE_CIRCUIT]
    # The worker's clock asks for this once a minute; asked for here, the test need not wait.
    app.configure_task("retry_stuck_jobs").defer(timestamp=0)
    call_command("work", until_empty=True)

    assert case.rejudgements.get().changes
    assert not ProcrastinateJob.objects.filter(status__in=("todo", "doing", "failed")).exists()
