"""A row of faults in one go says of each what the plain question says of it alone."""

import math

import pytest

from circuits.engine import (
    AS_IT_STANDS,
    BadPlace,
    Fault,
    Network,
    Place,
    Rig,
    Sweep,
    find_suspect,
    predict,
    suspects,
    sweep,
)
from tests.circuits.reference_networks import reference_circuit
from tests.engine.relay_lamp import LAMP, RELAY


def swept(network: Network, severities: list[float], suspect: str) -> Sweep:
    found = find_suspect(network, suspect)
    return sweep(network, [LAMP], [Fault(suspect=found, severity=ohms) for ohms in severities])


def test_a_relay_stays_out_once_its_feed_takes_more_than_the_winding_can_spare() -> None:
    """7.2 V / 90 Ohm = 80 mA pull it in; 12.60 V / 80 mA = 157.5 Ohm, of which the winding and
    its wire are 90.05: up to 67.45 Ohm more it pulls, beyond that it does not."""
    shown = swept(RELAY, [67.3, 67.6], "resistance:W1")
    contact = shown.states["as drawn", "lamp"]["K1.con"]

    assert contact.made.tolist() == [True, False]
    assert contact.remembers
    assert shown.values[:, 0, 0] == pytest.approx([12.58, 0.0], abs=0.01)


@pytest.mark.parametrize("key", ["C01", "C05", "C07"])
@pytest.mark.parametrize("rig", [AS_IT_STANDS, Rig(lamp_watts=5.0)], ids=["meter", "lamp"])
def test_a_row_of_faults_shows_what_each_shows_alone(key: str, rig: Rig) -> None:
    """Against `predict`, which is held to the reference tables: relays, rules, filaments."""
    circuit = reference_circuit(key)
    places = circuit.places[:3]
    chosen = suspects(circuit.network)[::17]
    faults = [None, *(Fault(suspect=each, severity=each.severity_at(0.4)) for each in chosen)]
    shown = sweep(circuit.network, places, faults, rig=rig)
    alone = [predict(circuit.network, places, fault=fault, rig=rig) for fault in faults]

    assert len(faults) > 3
    for number, expected in enumerate(alone):
        for seat, prediction in shown.predictions(number).items():
            for name in ("value", "low", "high"):
                found, wanted = getattr(prediction, name), getattr(expected[seat], name)
                assert found == pytest.approx(wanted, rel=1e-9, abs=1e-9), (faults[number], seat)
            assert prediction.floating == expected[seat].floating
            assert prediction.chatters == expected[seat].chatters


def test_a_long_row_goes_through_in_portions(monkeypatch: pytest.MonkeyPatch) -> None:
    severities = [0.1, 1.0, 67.3, 67.6, 1e4, math.inf]
    whole = swept(RELAY, severities, "resistance:W1")
    monkeypatch.setattr("circuits.engine.predicting.sweeping.MOST_ELEMENTS", 20)
    portions = swept(RELAY, severities, "resistance:W1")

    assert portions.values == pytest.approx(whole.values)
    seat = ("as drawn", "lamp")
    assert portions.states[seat]["K1.con"].made.tolist() == [True] * 3 + [False] * 3


def test_no_faults_make_an_empty_row_and_a_place_that_is_not_there_is_named() -> None:
    assert sweep(RELAY, [LAMP], []).values.shape == (0, 1, 1)
    with pytest.raises(BadPlace, match="red lead is on nowhere"):
        sweep(RELAY, [Place(key="x", red="nowhere", black="minus")], [None])
