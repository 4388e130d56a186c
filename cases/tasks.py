"""What the worker does in the background; each job can be run twice without harm."""

from typing import Any

from django.utils import timezone
from procrastinate import JobContext, RetryStrategy
from procrastinate.contrib.django import app

from cases.models import Case, Shop, Verdict
from cases.services import pairs, record, rejudging, search_upkeep, words
from cases.services.older_logs import taking_in, writing
from circuits.models import Revision

# Five tries, the last about four minutes after the first; what fails then is a bug, in the log. The
# page of a case says so where pairs are lacking, and offers to look again.
TRIES = RetryStrategy(max_attempts=5, exponential_wait=4)


@app.task(name=rejudging.REJUDGE_CIRCUIT, queue="rejudging", retry=TRIES)
def rejudge_circuit(revision_pk: int) -> None:
    """Queue the cases of a circuit that has a new revision."""
    rejudging.queue_cases(Revision.objects.get(pk=revision_pk))


@app.task(name=rejudging.REJUDGE_CASE, queue="rejudging", retry=TRIES)
def rejudge_case(case_pk: int, revision_pk: int) -> None:
    """Judge one case once more, if it is still there."""
    case = Case.objects.filter(pk=case_pk).first()
    if case is not None:
        revision = Revision.objects.select_related("circuit").get(pk=revision_pk)
        rejudging.rejudge_case(case=case, revision=revision, at=timezone.now())


@app.task(name=record.LOOK_FOR_PAIRS, queue="pairs", retry=TRIES)
def look_for_pairs(verdict_pk: int) -> None:
    """Look for two faults at once where no single one fits, if the verdict is still there."""
    verdict = Verdict.objects.select_related("case", "revision").filter(pk=verdict_pk).first()
    if verdict is not None:
        pairs.look_for_pairs(verdict=verdict)


@app.task(name=taking_in.TAKE_IN_LOG, queue="older logs", retry=TRIES)
def take_in_log(log_pk: int) -> None:
    """Go on with an older log for a while, and queue the rest behind what waits."""
    if taking_in.go_through_log(log_pk=log_pk, at=timezone.now()):
        app.configure_task(taking_in.TAKE_IN_LOG).defer(log_pk=log_pk)


@app.task(name=writing.JUDGE_TAKEN_IN, queue="older logs", retry=TRIES)
def judge_taken_in(case_pks: list[int]) -> None:
    """Give cases out of an older log their first verdicts."""
    taking_in.judge_taken_in(case_pks=case_pks, at=timezone.now())


@app.task(name=words.READ_WORDS_ANEW, queue="search", retry=TRIES)
def read_words_anew(shop_pk: int) -> None:
    """Let search know a shop's texts by the words it uses now."""
    shop = Shop.objects.filter(pk=shop_pk).first()
    if shop is not None:
        words.read_words_anew(shop=shop, at=timezone.now())


@app.periodic(cron="* * * * *")
@app.task(name="keep_search_ready", queue="search", queueing_lock="keep_search_ready")
def keep_search_ready(timestamp: int) -> None:
    """Build the segments whose tail has grown, and write what search lacks."""
    search_upkeep.keep_search_ready(at=timezone.now())


@app.periodic(cron="* * * * *")
@app.task(
    name="retry_stuck_jobs",
    queue="upkeep",
    queueing_lock="retry_stuck_jobs",
    pass_context=True,
)
async def retry_stuck_jobs(context: JobContext, timestamp: int) -> None:
    """Queue anew what a worker that was killed had in hand: its heartbeat has stopped."""
    manager: Any = context.app.job_manager
    for job in await manager.get_stalled_jobs():
        await manager.retry_job(job)
