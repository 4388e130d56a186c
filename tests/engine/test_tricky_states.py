"""States that fool: a relay that chatters or remembers, a hot winding, a lost ground."""

from dataclasses import replace

import pytest

from circuits.engine import (
    Coil,
    Fault,
    Outcome,
    Suspect,
    find_suspect,
    judge,
    predict,
    solve,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.solving import solved
from tests.engine.tricky import claim_of, fitting_ids, logged, verdict_on

HEADLAMPS = reference_circuit("C07")
STARTING = reference_circuit("C01")
SPLIT_CHARGE = reference_circuit("C03")
PUMP = reference_circuit("C05")
DIPPED = "running, dipped"


def open_at(circuit: str, part: str) -> Fault:
    suspect: Suspect = find_suspect(reference_circuit(circuit).network, f"resistance:{part}")
    return Fault(suspect=suspect, severity=float("inf"))


# --------------------------------------------------------------------- back-feed


def test_volts_on_a_switched_off_feed_come_from_a_lost_shared_ground() -> None:
    """Left dipped 4.41 V, its splice 9.32 V, main feed 4.74 V with main beam off, 2.64 A.

    Three filaments of like watts share 13.8 V in a row, dipped left, main left, main right. A main
    relay that leaks leaves the left dipped lamp bright.
    """
    readings = [
        *logged("C07", DIPPED, TP1=4.41, TP2=9.32, TP5=4.74, TP6=4.42),
        *logged("C07", DIPPED, step=0.01, TP9=2.64),
    ]

    verdict = verdict_on("C07", readings, "resistance:WgL")

    assert verdict.outcome is Outcome.FITS
    assert "bypass:KHc" not in fitting_ids(verdict)
    assert not {"resistance:lampLOWL", "resistance:WlowL"} & fitting_ids(verdict)


def test_a_leaking_main_relay_is_believed_by_one_reading_alone() -> None:
    """4.74 V on the main-beam feed fits the leak and the lost ground; the left lamp parts them."""
    verdict = verdict_on("C07", logged("C07", DIPPED, TP5=4.74), "bypass:KHc")

    assert verdict.outcome is Outcome.FITS
    assert "resistance:WgL" in fitting_ids(verdict)


def test_a_lamp_on_a_lost_ground_changes_when_another_lamp_is_switched() -> None:
    """4.41 V dipped, 2.96 V with the indicator, 0.00 V on main beam: nothing left to return by."""
    place = HEADLAMPS.row("TP1").place
    fault = open_at("C07", "WgL")

    shown = predict(HEADLAMPS.network, [place], fault=fault)
    volts = [shown[phase.name, "TP1"].value for phase in HEADLAMPS.network.phases]
    sound = predict(HEADLAMPS.network, [place])
    steady = [sound[phase.name, "TP1"].value for phase in HEADLAMPS.network.phases]

    by_phase = dict(zip([phase.name for phase in HEADLAMPS.network.phases], volts, strict=True))
    assert by_phase[DIPPED] == pytest.approx(4.41, abs=0.01)
    assert by_phase["running, dipped + left indicator lit"] == pytest.approx(2.96, abs=0.01)
    assert by_phase["running, main beam"] == pytest.approx(0.0, abs=0.01)
    assert max(steady) - min(steady) < 0.2


# ------------------------------------------------------------------ chatter and memory


def test_six_volts_while_cranking_may_be_a_clattering_solenoid_or_a_steady_slow_crank() -> None:
    """Battery at 11.80 V at rest, a meter that cannot follow shows some 6 V while cranking.

    Behind 75 mOhm the solenoid clatters between 9.3 and 2.9 V. Behind 43 mOhm it stays in, and
    the 136 A of motor, winding and consumers leave 11.80 - 0.043 x 136 = 6.0 V as well. The
    weak battery fits over that whole range; the least and the greatest value captured part the two.
    """
    flat = STARTING.network.with_part_values("B1", open_circuit_volts=11.80)
    place = STARTING.row("TP1").place
    battery_ohms = find_suspect(flat, "resistance:B1")

    verdict = judge(flat, logged("C01", "cranking", TP1=6.0), claim="resistance:B1")
    clatters = predict(flat, [place], fault=Fault(suspect=battery_ohms, severity=0.064))
    steady = predict(flat, [place], fault=Fault(suspect=battery_ohms, severity=0.032))

    claim = claim_of(verdict)
    assert claim.outcome is Outcome.FITS
    assert claim.severity_low is not None
    assert claim.severity_high is not None
    assert claim.severity_low < 0.032 < 0.064 < claim.severity_high
    assert not verdict.healthy.passes
    assert clatters["cranking", "TP1"].chatters
    assert not steady["cranking", "TP1"].chatters
    assert steady["cranking", "TP1"].value == pytest.approx(6.0, abs=0.1)
    assert "low-volts:B1" in fitting_ids(verdict)


def test_a_split_charge_relay_keeps_the_state_it_came_with() -> None:
    """100 ohm too many in the coil's feed: enough to hold the relay, too many to pull it in.

    Out before: 6.00 V on its coil, stays out. In before: 5.95 V, stays in.
    """
    extra = Fault(suspect=find_suspect(SPLIT_CHARGE.network, "resistance:W7"), severity=100.0)

    coil = SPLIT_CHARGE.network.part("K5.coil")
    found: dict[str, dict[bool, float]] = {}
    for each in solve(SPLIT_CHARGE.network, extra, history="unknown"):
        assert not each.chatters
        volts = abs(each.drop_volts(coil.first, coil.second))
        found.setdefault(each.phase, {})[each.contacts["K5.con"]] = volts
    torn = [states for states in found.values() if len(states) == 2]

    assert any(
        states == {False: pytest.approx(6.00, abs=0.01), True: pytest.approx(5.95, abs=0.01)}
        for states in torn
    )


# ------------------------------------------------------------------------ windings


def test_an_open_winding_has_full_volts_on_its_pins_and_so_has_a_good_one() -> None:
    """12.5 V across 86 and 85 while cranking, nothing at terminal 50, no click.

    An open winding fits; a contact that does not make fits too (12.4 V on a winding that pulls).
    Volts on the pins are no proof that current flows: the amps in the winding part the two.
    """
    pins = logged("C01", "cranking", TP1=12.51, TP6=12.45, TP3=0.0)

    verdict = verdict_on("C01", pins, "resistance:K1.coil")

    assert verdict.outcome is Outcome.FITS
    assert "resistance:K1.con" in fitting_ids(verdict)
    opened = solved(STARTING.network, open_at("C01", "K1.coil"))["cranking"]
    contact = solved(STARTING.network, open_at("C01", "K1.con"))["cranking"]
    assert opened.contacts["K1.con"] is False
    assert opened.amps["K1.coil"] == pytest.approx(0.0, abs=1e-9)
    assert contact.contacts["K1.con"] is True
    assert contact.amps["K1.coil"] == pytest.approx(12.4 / 88, rel=0.02)


def test_a_relay_that_stays_out_hot_on_a_cranking_battery_is_not_faulty_by_cold_figures() -> None:
    """Copper at 90 C resists 27.5 % more: 7.2 V of pull-in become 9.2 V, more than the 9.0 there.

    The relay is out, the pump has no volts, and a healthy circuit reads the same.
    """
    drawn = PUMP.network.part("K3.coil")
    winding = Coil(name=drawn.name, first=drawn.first, second=drawn.second, ohms=90.0)
    pump = PUMP.network.with_parts([winding])
    cold = logged("C05", "cranking", TP1=9.0, TP2=0.0)
    hot = [replace(reading, celsius=90.0) for reading in cold]

    by_cold_figures = judge(pump, cold, claim="resistance:K3.con", supply_places=("TP1",))
    by_hot_figures = judge(pump, hot, claim="resistance:K3.con", supply_places=("TP1",))

    assert not by_cold_figures.healthy.passes
    assert by_cold_figures.outcome is Outcome.FITS
    assert by_hot_figures.healthy.passes
    assert by_hot_figures.outcome is Outcome.CANNOT_SAY


def test_off_is_not_nought_volts_where_a_probe_on_plus_looks_through_the_load() -> None:
    """After prime the dead feed is grounded through the pump: 12.40 V from battery plus to it.

    Sound and under each fault of the set alike, so the reading tells nothing, though a drop test
    without current looks like a dead feed.
    """
    reading = logged("C05", "ignition on, after prime", TP3=12.40)

    verdict = verdict_on("C05", reading, "resistance:C40")

    assert verdict.healthy.passes
    for letter_suspect in ("W4", "C40", "INERT", "DRV", "K3.con"):
        finding = next(f for f in verdict.findings if f.id == f"resistance:{letter_suspect}")
        assert finding.outcome is Outcome.CANNOT_SAY
