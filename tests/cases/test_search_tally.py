"""What is counted once for all and put right for one person, judged by counting one by one."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.search.evidence import HELD_NUMBER, VERIFIED_NUMBER
from cases.search.postings import Posting
from cases.search.scoring import BINS, TENTHS, bins_of
from cases.search.segment import Rows, Segment
from cases.search.sight import View

TERM, TODAY = 9000, 20_000
SHOPS = (1, 2, 3)
FAULTS = (0, 11, 12, 13)

_case = st.tuples(
    st.sampled_from(SHOPS),
    st.booleans(),  # shared
    st.sampled_from(FAULTS),
    st.integers(0, 6),  # standing
    st.booleans(),  # held by now, if it is verified
    st.none() | st.integers(-127, 127),  # what was measured
)


def _segment(cases: list[tuple[int, bool, int, int, bool, int | None]]) -> Segment:
    shops, shared, faults, standings, held, _ = zip(*cases, strict=True)
    numbers = np.arange(1, len(cases) + 1)
    rows = Rows(
        {
            "cases": numbers,
            "roots": numbers,
            "shops": np.array(shops, np.int32),
            "shared": np.array(shared),
            "faults": np.array(faults, np.int32),
            "circuits": np.zeros(len(cases), np.int32),
            "vehicles": np.zeros(len(cases), np.int32),
            "standings": np.array(standings, np.int8),
            "held_from": np.where(held, TODAY - 1, TODAY).astype(np.int32),
            "opened": np.zeros(len(cases), np.int32),
        }
    )
    rows = rows.taken(rows.in_order())
    measured = [
        (row, read)
        for row, case in enumerate(rows.cases.tolist())
        if (read := cases[case - 1][-1]) is not None
    ]
    posting = Posting(
        np.array([row for row, _ in measured], np.int64),
        np.array([read for _, read in measured], np.int8),
    )
    return Segment(rows, {TERM: posting}, terms=lambda: ())


@settings(deadline=None)
@given(
    st.lists(_case, min_size=1, max_size=40),
    st.sets(st.sampled_from((-1, *SHOPS))),
    st.lists(st.integers(1, 40), max_size=12),
    st.sets(st.integers(0, 39)) | st.none(),
    st.booleans(),
)
def test_what_a_person_sees_counts_as_if_it_were_counted_one_by_one(
    cases, groups, hidden, narrowed_to, drops
) -> None:
    segment = _segment(cases)
    view = View(segment, sorted(groups))
    for start in range(0, len(hidden), 3):
        view.hide(segment.rows_of(hidden[start : start + 3]))
    if narrowed_to is not None:
        view.keep_only(np.isin(np.arange(len(cases)), list(narrowed_to)))
    if drops:
        view.drop_empty_blocks()
    counted = view.counted(TERM, BINS)
    plain = np.zeros_like(counted)
    by_fault: dict[int, tuple[int, float]] = {}
    for row, number in enumerate(segment.rows.cases.tolist()):
        shop, shared, fault, standing, held, read = cases[number - 1]
        seen = (shared and -1 in groups) or (not shared and shop in groups)
        if not seen or number in hidden or (narrowed_to is not None and row not in narrowed_to):
            continue
        tenths = TENTHS[HELD_NUMBER if held and standing == VERIFIED_NUMBER else standing]
        many, weight = by_fault.get(fault, (0, 0.0))
        by_fault[fault] = many + 1, weight + tenths
        if read is not None:
            place = segment.fault_numbers.tolist().index(fault)
            plain[place, bins_of(np.array([read]))[0]] += tenths

    assert np.array_equal(counted, plain)
    found: dict[int, tuple[int, float]] = {}
    for fault, many, weight in zip(
        view.faults.tolist(),
        view.block_counts().tolist(),
        view.block_tenths().tolist(),
        strict=True,
    ):
        before = found.get(fault, (0, 0.0))
        found[fault] = before[0] + many, before[1] + weight
    assert {fault: each for fault, each in found.items() if each[0]} == by_fault
    if drops:
        assert set(found) == set(by_fault)


def test_every_weight_is_a_whole_number_of_tenths() -> None:
    """Only so does taking away leave nothing of what was added: 0.7 + 0.2 - 0.7 is not 0.2."""
    assert TENTHS[VERIFIED_NUMBER] == 10
    assert np.array_equal(TENTHS, np.rint(TENTHS))
