"""An older log through the product, and its rows by COPY beside `bulk_create`; told, not asserted.

The log is a table of invented cases of the fuel pump, six readings and two codes each. Counted are
the rows that are written: cases, vehicles, codes, readings, what search keeps, what came in.
"""

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

import numpy as np
import pytest
from django.db import transaction
from django.db.models import Model

from cases.models import Case, CaseEvidence, LogState, OlderLog, Wanted
from cases.services.older_logs import taking_in, writing
from cases.services.older_logs.building import Builder, BuiltCase
from cases.services.older_logs.log_file import names_in, read_log
from cases.services.older_logs.table_cases import told_in_table
from tests.benchmarks import report
from tests.cast import FEED_FAULT, MONDAY, Cast, call_cast, publish

CASES = 2000
READINGS = (("TP1", 12.35), ("TP2", 6.79), ("TP3", 5.49), ("TP4", 0.07), ("TP2", 6.8), ("TP3", 5.5))
CODES = ("P0087", "P0190-11")
#: A case, its vehicle, its codes and readings, its evidence, and what it was called.
ROWS_OF_A_CASE = 4 + len(CODES) + len(READINGS)
WORDS = (
    *(
        "stalls",
        "hot",
        "motorway",
        "idle",
        "cold",
        "rain",
        "long",
        "run",
        "warning",
        "lamp",
        "hums",
    ),
    *("whines", "jerks", "climbs", "loses", "power", "hour", "trailer", "uphill", "corner", "tank"),
)
ROUNDS = 3
_LOGS = itertools.count()


def old_log(cases: int) -> bytes:
    """Return a log that no other is like."""
    log = next(_LOGS)
    random = np.random.default_rng(log)
    heading = "case,opened_at,make,model,plate,circuit,complaint,codes,claim,place,phase,reading"
    lines = [heading]
    for number in range(cases):
        words = " ".join(random.choice(WORDS, 8))
        facts = f"{log}-{number},2019-04-0{number % 9 + 1},Tolvane,Juniver,L{log} N{number}"
        claimed = f"fuel-pump,{words},{' '.join(CODES)},{FEED_FAULT}"
        for at, (place, volts) in enumerate(READINGS):
            told = f"{facts},{claimed}" if at == 0 else ",,,,,,,,"
            lines.append(f"{told},{place},prime,{volts + random.normal(0, 0.05):.2f}")
    return "\n".join(lines).encode()


def insert_rows(model: type[Model], rows: Iterable[Mapping[str, Any]]) -> None:
    """Write the same rows as Django's usual way of writing many."""
    model._default_manager.bulk_create(
        [model(**{name: row[name] for name in row if name != "_state"}) for row in rows],
        batch_size=500,
    )


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    cast = call_cast()
    publish("fuel_pump.txt", by=cast.technician)
    return cast


@pytest.fixture
def best(benchmark: Any, measured: report.Measured) -> Callable[..., None]:
    """Return a function that notes the best of some rounds, each on something made for it."""

    def run(name: str, function: Callable[[Any], Any], make: Callable[[], Any]) -> None:
        benchmark.group = name
        benchmark.pedantic(function, setup=lambda: ((make(),), {}), rounds=ROUNDS, warmup_rounds=1)
        measured.seconds[name] = benchmark.stats.stats.min
        measured.seconds[report.LOG_ROWS] = CASES * ROWS_OF_A_CASE

    return run


WAYS = ("COPY", "bulk_create")


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Write by COPY, or by what it is compared with."""
    if request.param != WAYS[0]:
        monkeypatch.setattr(writing, "copy_rows", insert_rows)
    return str(request.param)


def test_a_log_through_the_product(way: str, cast: Cast, best) -> None:
    def made() -> int:
        return taking_in.keep_log(
            shop=cast.shop,
            name="old.csv",
            content=old_log(CASES),
            wanted=Wanted.GOOD,
            by=cast.owner,
            at=MONDAY,
        ).pk

    def through(log_pk: int) -> None:
        while taking_in.go_through_log(log_pk=log_pk, at=MONDAY):
            pass

    best(report.LOG_THROUGH if way == WAYS[0] else report.LOG_THROUGH_INSERTED, through, made)

    assert not OlderLog.objects.exclude(state=LogState.TAKEN_IN).exists()
    assert Case.objects.count() == CaseEvidence.objects.count() == CASES * (ROUNDS + 1)


def test_the_rows_of_a_log(way: str, cast: Cast, best) -> None:
    log = taking_in.keep_log(
        shop=cast.shop,
        name="old.csv",
        content=old_log(1),
        wanted=Wanted.GOOD,
        by=cast.owner,
        at=MONDAY,
    )
    builder = Builder(cast.shop, cast.owner, MONDAY)

    def built() -> Iterator[BuiltCase]:
        file = read_log(old_log(CASES))
        names = names_in(file.heading)
        return iter([builder.build(told_in_table(names, entry)) for entry in file.entries])

    @transaction.atomic
    def written(cases: Iterator[BuiltCase]) -> None:
        while group := list(itertools.islice(cases, taking_in.CASES_IN_A_STEP)):
            writing.write_cases(
                group,
                log=log,
                first_number=writing.reserve_numbers(log.shop, len(group)),
                people=builder.people.values(),
                at=MONDAY,
            )

    best(report.LOG_ROWS_COPIED if way == WAYS[0] else report.LOG_ROWS_INSERTED, written, built)

    assert Case.objects.count() == CaseEvidence.objects.count() == CASES * (ROUNDS + 1)
