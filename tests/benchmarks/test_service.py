"""One check of a case with every suspect through the service, and the page of the case.

The aims are for the 95th percentile on two cores; they are told, not asserted.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from cases.models import Verdict
from cases.services.verdicts import check_case
from circuits.engine.settling.kept import forget_charts
from tests.benchmarks import report
from tests.cast import FEED_FAULT, FEED_READINGS, MONDAY, call_cast, logged, publish

ROUNDS = 40
PERCENTILE = 0.95


@pytest.fixture
def slowest(benchmark: Any, measured: report.Measured) -> Callable[..., Any]:
    """Return a function that runs another many times and notes its 95th percentile."""

    def run(name: str, function: Callable[[], Any]) -> Any:
        benchmark.group = name
        result = benchmark.pedantic(function, rounds=ROUNDS, warmup_rounds=2)
        measured.seconds[name] = float(np.quantile(benchmark.stats.stats.data, PERCENTILE))
        return result

    return run


@pytest.mark.django_db
def test_one_check_of_a_case(slowest) -> None:
    cast = call_cast()
    case = logged(
        cast, publish("fuel_pump.txt", by=cast.technician), FEED_READINGS, claim=FEED_FAULT
    )

    def check_first() -> Verdict:
        forget_charts()
        return check_case(case=case, by=cast.technician, at=MONDAY)

    verdict = slowest(report.CHECK, check_first)

    assert verdict.outcome == "fits"


@pytest.mark.django_db
def test_one_more_check_of_a_case(slowest) -> None:
    cast = call_cast()
    case = logged(
        cast, publish("fuel_pump.txt", by=cast.technician), FEED_READINGS, claim=FEED_FAULT
    )

    verdict = slowest(
        report.CHECK_AGAIN, lambda: check_case(case=case, by=cast.technician, at=MONDAY)
    )

    assert verdict.outcome == "fits"


@pytest.mark.django_db
def test_the_page_of_a_case(slowest) -> None:
    cast = call_cast()
    case = logged(
        cast, publish("fuel_pump.txt", by=cast.technician), FEED_READINGS, claim=FEED_FAULT
    )
    client = Client()
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse("cases:case", args=(case.pk,))

    page = slowest(report.CASE_PAGE, lambda: client.get(address))

    assert page.status_code == 200
    assert b"What decided" in page.content
