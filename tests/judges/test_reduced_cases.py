"""Small circuits on which the engine once went wrong: each found by a judge, then reduced.

The sums are in the docstrings: Ohm's law and Kirchhoff's laws, no other source.
"""

import pytest

from circuits.engine import (
    CurrentLoad,
    Diode,
    Fault,
    Lamp,
    Network,
    Place,
    PowerLoad,
    find_suspect,
    predict,
    solve,
)
from tests.engine.drawing import battery, coil, contact, network, resistor, switch


def volts_with(drawn: Network, suspect: str, severity: float, node: str) -> float | None:
    fault = Fault(suspect=find_suspect(drawn, suspect), severity=severity)
    return solve(drawn, fault)[0].volts[node]


def test_electronics_behind_too_many_ohms_brown_out() -> None:
    """12 V behind 2 ohm give at most 12^2 / (4 x 2) = 18 W, and the load wants 200.

    Collapsed it is 72 A / 1 V = 72 S: 12 V / (2 ohm + 1/72 ohm) = 5.959 A, so 0.0828 V.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.01),
        resistor("R1", "plus - pin", 1.99),
        PowerLoad(name="A1", first="pin", second="minus", watts=200, max_amps=72),
        zero="minus",
    )

    (solution,) = solve(drawn)

    assert solution.amps["A1"] == pytest.approx(12 / (2 + 1 / 72), rel=1e-6)
    assert solution.volts["pin"] == pytest.approx(12 / (2 + 1 / 72) / 72, rel=1e-6)


def test_a_loose_place_that_leaks_to_the_supply_reads_what_the_lamps_leave_of_it() -> None:
    """Nothing hangs on the loose place, so no current flows in the leak: it reads as the supply.

    A 60 W lamp on 12 V behind 0.5 ohm pulls that well below 12 V, and its law is curved.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.5),
        Lamp(name="E1", first="plus", second="minus", rated_watts=60),
        switch("S1", "plus - loose", closed=False),
        switch("S2", "loose - minus", closed=False),
        zero="minus",
    )
    (healthy,) = solve(drawn)

    assert healthy.drop_volts("plus", "minus") < 11
    assert volts_with(drawn, "supply-short:loose", 10.0, "loose") == pytest.approx(
        healthy.volts["plus"], abs=1e-9
    )


@pytest.mark.parametrize("path_ohms", [0.2, 1.0, 3.0])
def test_a_consumer_switched_in_its_ground_draws_its_current_through_a_leak_to_ground(
    path_ohms: float,
) -> None:
    """2.5 A flow through the leak of a low side that should be open: 2.5 A x 0.2 ohm = 0.5 V."""
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.01),
        CurrentLoad(name="A1", first="plus", second="low", amps=2.5),
        switch("S1", "low - minus", closed=False),
        zero="minus",
    )

    assert volts_with(drawn, "ground-short:low", path_ohms, "low") == pytest.approx(
        2.5 * path_ohms, abs=1e-6
    )


def test_a_consumer_that_leaks_into_a_place_without_a_way_on_draws_nothing() -> None:
    """The low side leaks to a wire whose two ends are open: there is still no circuit."""
    drawn = Network(
        parts=(
            battery("B1", "plus - minus", 12.0, 0.01),
            CurrentLoad(name="A1", first="plus", second="low", amps=2.5),
            switch("S1", "low - minus", closed=False),
            switch("S2", "dead - minus", closed=False),
            switch("S3", "dead - plus", closed=False),
        ),
        zero="minus",
        body="dead",
    )
    fault = Fault(suspect=find_suspect(drawn, "ground-short:low"), severity=1.0)

    (solution,) = solve(drawn, fault)

    assert solution.amps["A1"] == pytest.approx(0.0, abs=1e-6)
    assert solution.amps["B1"] == pytest.approx(0.0, abs=1e-6)


def test_a_feed_that_is_switched_off_before_its_diode_reads_nothing() -> None:
    """Two feeds meet behind diodes at a motor; the one that is off is cut off on both sides.

    Its diode blocks what stands behind it, so a meter there has no circuit: 0 V, not 11.
    """
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.01),
        switch("S1", "plus - on"),
        switch("S2", "plus - off", closed=False),
        Diode(name="V1", first="on", second="joined", forward_volts=0.7, on_ohms=0.1),
        Diode(name="V2", first="off", second="joined", forward_volts=0.7, on_ohms=0.1),
        CurrentLoad(name="A1", first="joined", second="low", amps=1.0),
        resistor("R1", "low - minus", 0.1),
        zero="minus",
    )
    place = Place(key="TP1", red="off", black="minus")

    shown = predict(drawn, [place])["as drawn", "TP1"]

    assert shown.floating
    assert shown.value == 0.0
    assert solve(drawn)[0].drop_volts("joined", "minus") > 10


def test_a_place_behind_a_diode_alone_reads_what_the_diode_lets_through() -> None:
    """Nothing hangs behind the diode, so no current flows: 12 V less its 0.7 V."""
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.01),
        Diode(name="V1", first="plus", second="end", forward_volts=0.7, on_ohms=0.1),
        switch("S1", "end - minus", closed=False),
        zero="minus",
    )

    assert solve(drawn)[0].volts["end"] == pytest.approx(11.3, abs=1e-9)


@pytest.mark.parametrize("ends", ["plus - low", "low - plus"])
def test_a_relay_pulls_whichever_way_its_winding_is_drawn(ends: str) -> None:
    """12 V on a 90 ohm winding are 133 mA, pull-in is 7.2 V / 90 ohm = 80 mA.

    A core is magnetised by either direction of the current, and so does the drawing not matter.
    """
    winding = coil("K1", ends, 90.0)
    drawn = network(
        battery("B1", "plus - minus", 12.0, 0.01),
        winding,
        switch("S1", "low - minus"),
        contact("K1.con", "plus - out", of=winding, pull_in_volts=7.2, drop_out_volts=2.0),
        resistor("R1", "out - minus", 6.0),
        zero="minus",
    )

    assert solve(drawn)[0].contacts == {"K1.con": True}
