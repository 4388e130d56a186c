"""Do what waits in the queue, here and now, in the test's own transaction."""

from django.db import connection
from procrastinate.contrib.django import app
from procrastinate.contrib.django.models import ProcrastinateJob

MOST_JOBS = 100


def waiting_jobs() -> list[ProcrastinateJob]:
    return list(ProcrastinateJob.objects.filter(status="todo").order_by("pk"))


def run_jobs() -> list[str]:
    """Run the jobs one after the other, also those that they queue; return their names."""
    done: list[str] = []
    while jobs := waiting_jobs():
        assert len(done) < MOST_JOBS, f"jobs without end: {done[-3:]}"
        for job in jobs:
            app.tasks[job.task_name].func(**job.args)
            with connection.cursor() as cursor:
                cursor.execute("DELETE FROM procrastinate_jobs WHERE id = %s", [job.pk])
            done.append(job.task_name)
    return done


def empty_queue() -> None:
    """Forget all jobs and workers: what a test leaves there does not go with its other rows."""
    with connection.cursor() as cursor:
        cursor.execute("TRUNCATE procrastinate_jobs, procrastinate_workers CASCADE")


def a_worker_was_seen(*, seconds_ago: int) -> None:
    """Have a worker in the queue's books that gave its last sign of life so long ago."""
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO procrastinate_workers (last_heartbeat)"
            " VALUES (now() - make_interval(secs => %s))",
            [seconds_ago],
        )
