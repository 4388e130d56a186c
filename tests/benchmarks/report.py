"""The aims of speed, and what one run measured beside them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

Seconds = Mapping[str, float]

ENTRIES_COLD = "all entries, cold"
ENTRIES_WARM = "all entries, warm"
ENTRIES_BY_LOOP = "all entries, one ngspice process"
ENTRIES_BY_PROCESSES = "all entries, an ngspice process each"
ENTRIES_BY_LAPACK = "all entries, bare LAPACK"
DICTIONARY_COLD = "dictionary with bands and curves, cold"
CASE_COLD = "one case, from nothing"
CASE_STORED = "one case, stored segments"
VERDICT_COLD = "one verdict, from nothing"
VERDICT_STORED = "one verdict, stored segments"
CHECK_AGAIN = "one more check of the case, 95th percentile"
DOUBLES = "double faults in all phases, a share of all pairs"
DOUBLE_CASES = "how many of these"
CHECK = "one check of a case through the service, 95th percentile"
CASE_PAGE = "the page of a case, 95th percentile"
PAIRS = "all pairs of one case, both severities free"
CURVED_ENTRIES_COLD = "all entries with curved loads, cold"
NEXT_READING = "what to measure next, one circuit in one phase"
LOG_THROUGH = "an older log through the product"
LOG_THROUGH_INSERTED = "the same with bulk_create"
LOG_ROWS_COPIED = "rows of an older log by COPY"
LOG_ROWS_INSERTED = "the same by bulk_create"
LOG_ROWS = "how many rows of an older log"
CURVED_ENTRIES_WARM = "all entries with curved loads, warm"


@dataclass(frozen=True, slots=True)
class Aim:
    """A ratio of two measurements, or a time, and what is aimed at."""

    words: str
    aim: str
    measures: tuple[str, ...]
    shown: Callable[[Seconds], str]
    reached: Callable[[Seconds], bool]


def _times_faster(words: str, slow: str, fast: str, least: float) -> Aim:
    return Aim(
        words,
        f"at least {least:g} x",
        (slow, fast),
        lambda seconds: f"{seconds[slow] / seconds[fast]:.1f} x",
        lambda seconds: seconds[slow] / seconds[fast] >= least,
    )


def _share_of(words: str, ours: str, theirs: str, most: float) -> Aim:
    return Aim(
        words,
        f"at most {most:g} of it",
        (ours, theirs),
        lambda seconds: f"{seconds[ours] / seconds[theirs]:.2f}",
        lambda seconds: seconds[ours] / seconds[theirs] <= most,
    )


def _within(words: str, name: str, most_seconds: float) -> Aim:
    return Aim(
        words,
        f"{most_seconds * 1e3:g} ms",
        (name,),
        lambda seconds: f"{seconds[name] * 1e3:.3g} ms",
        lambda seconds: seconds[name] <= most_seconds,
    )


def _per_case(words: str, name: str, cases: str, most_seconds: float) -> Aim:
    return Aim(
        words,
        f"{most_seconds * 1e6:g} us",
        (name, cases),
        lambda seconds: f"{1e6 * seconds[name] / seconds[cases]:.3g} us",
        lambda seconds: seconds[name] / seconds[cases] <= most_seconds,
    )


AIMS: Sequence[Aim] = (
    _within("one check of a case with every suspect through the service", CHECK, 50e-3),
    _within("the page of a case", CASE_PAGE, 200e-3),
    _times_faster("entries cold, against ngspice's own loop", ENTRIES_BY_LOOP, ENTRIES_COLD, 20),
    _times_faster("entries warm, against ngspice's own loop", ENTRIES_BY_LOOP, ENTRIES_WARM, 70),
    _times_faster(
        "entries cold, against an ngspice process each", ENTRIES_BY_PROCESSES, ENTRIES_COLD, 1000
    ),
    _share_of(
        "dictionary with bands and 64-point curves, against bare LAPACK of the entries",
        DICTIONARY_COLD,
        ENTRIES_BY_LAPACK,
        0.7,
    ),
    _within("one case against every fault, exact, stored segments", CASE_STORED, 1e-3),
    _within("one case against every fault, exact, from nothing", CASE_COLD, 10e-3),
    _per_case("all double faults in all phases, a case", DOUBLES, DOUBLE_CASES, 0.5e-6),
    _times_faster(
        "rows of an older log, against bulk_create", LOG_ROWS_INSERTED, LOG_ROWS_COPIED, 3
    ),
    _times_faster(
        "an older log through the product, against bulk_create",
        LOG_THROUGH_INSERTED,
        LOG_THROUGH,
        3,
    ),
    _per_case("rows of an older log, each", LOG_ROWS_COPIED, LOG_ROWS, 25e-6),
    _per_case("an older log through the product, a row", LOG_THROUGH, LOG_ROWS, 25e-6),
    _within("all pairs of one case, both severities free", PAIRS, 1.0),
    _share_of("curved loads against straight ones, cold", CURVED_ENTRIES_COLD, ENTRIES_COLD, 5),
    _share_of("curved loads against straight ones, warm", CURVED_ENTRIES_WARM, ENTRIES_WARM, 5),
)


@dataclass(slots=True)
class Measured:
    """The best times of one run, by name, and tables that tests wrote."""

    seconds: dict[str, float] = field(default_factory=dict)
    tables: list[str] = field(default_factory=list)

    def lines(self) -> list[str]:
        lines = [f"{'measured':<58} {'best of its rounds':>20}"]
        lines += [
            f"{name:<58} {1e3 * best:>17.3f} ms"
            for name, best in self.seconds.items()
            if name not in (DOUBLE_CASES, LOG_ROWS)
        ]
        lines += ["", f"{'aim':<80} {'aimed at':>14} {'measured':>12}"]
        for aim in AIMS:
            known = all(name in self.seconds for name in aim.measures)
            shown = aim.shown(self.seconds) if known else "not run"
            mark = "" if not known else ("  reached" if aim.reached(self.seconds) else "  missed")
            lines.append(f"{aim.words:<80} {aim.aim:>14} {shown:>12}{mark}")
        return [*lines, *(line for table in self.tables for line in ("", *table.splitlines()))]
