"""Ohms on a circuit that still has its power: refused where a reading is logged, and why.

What to do instead is said with it: remove the power, or leave it on and read the drop. Lines of
files and imports are another matter: they stay as they were written and speak for nobody.
"""

from dataclasses import replace

from cases.circuit import CaseCircuit
from cases.documents.readings import Rig
from cases.errors import OhmsOnLiveParts
from cases.judging.lines import engine_rig
from cases.spots import key_between
from circuits.engine import Place, ohms_on_live_parts, predict
from circuits.units import format_quantity

#: Below this no current worth speaking of flows between the leads.
LEAST_DROP_VOLTS = 0.001


def refuse_live_ohms(circuit: CaseCircuit, place: str, phase: str, rig: Rig) -> None:
    """Refuse a figure in ohms that was read with the power on.

    Raises
    ------
    OhmsOnLiveParts
        Says what the meter shows there and which drop to read instead.
    """
    found = circuit.place_at(place)
    rig = circuit.rig_at(place, rig)
    if found is None or not found.reads_ohms or rig.power_removed:
        return
    shown = ohms_on_live_parts(circuit.network, [found])[circuit.engine_phase(phase), found.key]
    figure = "OL" if shown.over_range else format_quantity(shown.value, "ohm")
    why = (
        "with the power on an ohmmeter shows the circuit's own volts as a figure that is no "
        f"resistance; in order it would show {figure} here. The meter may be damaged, and it "
        "drives a current into modules."
    )
    raise OhmsOnLiveParts(place, f"{why}{_instead(circuit, found, phase, rig)}")


def _instead(circuit: CaseCircuit, place: Place, phase: str, rig: Rig) -> str:
    """Return the drop test that tells what the ohms were to tell, with the healthy figures."""
    if circuit.refusal:
        return ""  # nothing is proposed where others have to take over
    drop = replace(_listed_drop(circuit, place) or place, reads_ohms=False)
    key = drop.key if drop.key != place.key else key_between(place.red, place.black)
    either = (
        " Either disconnect the battery as its maker says and note 'power removed', or leave it on "
        f"and read the drop in volts at {key}, from {place.red} to {place.black}"
    )
    shown = predict(circuit.network, [drop], rig=engine_rig(circuit, rig))
    flows = {
        where: found
        for (where, _), found in shown.items()
        if abs(found.value) >= LEAST_DROP_VOLTS and not found.floating
    }
    if not flows:
        return f"{either}, with the load on and its current flowing."
    best = phase if phase in flows else max(flows, key=lambda each: abs(flows[each].value))
    low, high = (format_quantity(end, "V") for end in (flows[best].low, flows[best].high))
    return f"{either}, in '{best}', where current flows: in order it is {low} to {high}."


def _listed_drop(circuit: CaseCircuit, place: Place) -> Place | None:
    """Return the place in volts that the circuit lists between the same leads."""
    return next(
        (
            each
            for each in circuit.places.values()
            if not each.reads_ohms and (each.red, each.black) == (place.red, place.black)
        ),
        None,
    )
