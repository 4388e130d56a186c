"""One case against every single fault, severity free; and what doubles cost.

'From nothing' means that nothing of the circuit is kept from the round before.
"""

from itertools import combinations, islice

import numpy as np

from circuits.engine import Interval, PreparedCircuit, Verdict, judge
from circuits.engine.equations.stage import Trials
from circuits.engine.settling.kept import forget_charts
from circuits.engine.settling.phases import PhaseRun
from tests.benchmarks import report
from tests.benchmarks.reference import HALFWAY, drawn_suspects, one_case, reference, seats

# The bands of the case: what its part tolerances would leave, roughly.
HALF_WIDTH_VOLTS = 0.15
PAIRS = 2000


def test_one_case_from_nothing(timed) -> None:
    network, places = reference()
    readings = one_case(network, places)
    bands = [HALF_WIDTH_VOLTS] * len(readings)

    def from_nothing() -> dict[str, tuple[Interval, ...]]:
        forget_charts()
        return PreparedCircuit(network, places).intervals(readings, bands)

    found = timed(report.CASE_COLD, from_nothing, rounds=3)

    assert "resistance:C40" in found


def test_one_case_with_stored_segments(timed) -> None:
    network, places = reference()
    readings = one_case(network, places)
    bands = [HALF_WIDTH_VOLTS] * len(readings)
    prepared = PreparedCircuit(network, places)

    found = timed(report.CASE_STORED, lambda: prepared.intervals(readings, bands))

    assert any(each.holds(0.9 / 1.9) for each in found["resistance:C40"])
    assert len(found) < len(drawn_suspects(network)) / 4


def test_one_verdict_from_nothing(timed) -> None:
    """The joint test with shared tolerances, twins and partings."""
    network, places = reference()
    readings = one_case(network, places)

    def from_nothing() -> Verdict:
        forget_charts()
        return judge(network, readings, places=places)

    verdict = timed(report.VERDICT_COLD, from_nothing, rounds=2)

    assert "resistance:C40" in {finding.id for finding in verdict.fitting}


def test_one_verdict_with_stored_segments(timed) -> None:
    """The second case of a circuit, or the same one with a reading more in a phase it has."""
    network, places = reference()
    readings = one_case(network, places)
    judge(network, readings[1:], places=places)

    verdict = timed(
        report.VERDICT_STORED, lambda: judge(network, readings, places=places), rounds=2
    )

    assert "resistance:C40" in {finding.id for finding in verdict.fitting}


def test_double_faults(timed, measured: report.Measured) -> None:
    """The first pairs of different suspects, halfway along both lines, in all four phases."""
    network, places = reference()
    run = PhaseRun(network, drawn_suspects(network))
    every = np.random.default_rng(1).permutation(list(combinations(range(len(run.suspects)), 2)))
    pairs = np.array(list(islice(every, PAIRS)))
    halfway = np.full(pairs.shape, HALFWAY)
    trials = Trials(pairs, halfway, 1 - halfway)

    went = timed(report.DOUBLES, lambda: run.go(trials, seats(network, places)), rounds=2)

    measured.seconds[report.DOUBLE_CASES] = float(len(went) * len(pairs))
    assert len(went) == len(network.phases)
