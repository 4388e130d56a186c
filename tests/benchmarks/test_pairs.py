"""Where no single fault fits: all pairs of one case, both severities free."""

from circuits.engine import suspects
from circuits.engine.judging.bench import Bench
from circuits.engine.judging.doubles import double_findings
from circuits.engine.judging.verdict import DoubleFinding
from tests.benchmarks import report
from tests.benchmarks.reference import logged, reference

# A pump plug with too many ohms, and a chafed wire to the right rear lamp.
TOGETHER = {"resistance:C40": 0.9, "resistance:W16": 2.0}
ASKED = [
    *((phase, key) for phase in ("on", "run") for key in ("TP1", "TP4", "TP5", "TP6", "TP8")),
    *(("on", key) for key in ("TP13", "TP14")),
]


def test_all_pairs_of_one_case(timed) -> None:
    """The single faults are tried beforehand: what is told is the search for pairs alone."""
    network, places = reference()
    bench = Bench(network, logged(network, places, TOGETHER, ASKED), suspects(network))
    _, findings = bench.findings()
    assert not any(finding.passes for finding in findings)

    found: tuple[DoubleFinding, ...] = timed(report.PAIRS, lambda: double_findings(bench), rounds=1)

    assert set(TOGETHER) in [{each.first.id, each.second.id} for each in found]
