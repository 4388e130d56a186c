"""Two faults at once, looked for in the background: it takes seconds, and only where none fits."""

from django.db import transaction

from cases.circuit import circuit_of
from cases.documents import PairDocument, VerdictDocument
from cases.judging import judge_lines
from cases.models import Case, Verdict
from cases.services.record import current_readings, line_of
from circuits.references import narrowed_at


def look_for_pairs(*, verdict: Verdict) -> bool:
    """Add the pairs of faults that fit to a verdict in which nothing fits.

    Returns False where there is nothing to do: they are there, or a newer verdict has come.
    """
    document = VerdictDocument.model_validate(verdict.result)
    if document.before is None or not document.before.lacks_pairs or not _is_newest(verdict):
        return False
    lines = [line_of(reading) for reading in current_readings(verdict.case)]
    found = judge_lines(
        circuit_of(verdict.revision),
        lines,
        claim=document.claim,
        with_pairs=True,
        narrowed=narrowed_at(verdict.revision),
    ).before
    return found is not None and _keep(verdict, document, found.pairs or ())


@transaction.atomic
def _keep(verdict: Verdict, document: VerdictDocument, pairs: tuple[PairDocument, ...]) -> bool:
    """Write the pairs, unless the case went on while they were looked for."""
    Case.objects.select_for_update(of=("self",)).get(pk=verdict.case_id)
    if document.before is None or not _is_newest(verdict):
        return False
    before = document.before.model_copy(update={"pairs": pairs})
    verdict.result = document.model_copy(update={"before": before}).as_data()
    verdict.save(update_fields=["result"])
    return True


def _is_newest(verdict: Verdict) -> bool:
    return verdict.case.verdicts.latest().pk == verdict.pk
