"""The fuel pump's circuit drawn anew, in ways that matter to its cases and in ways that do not."""

from datetime import timedelta

from django.contrib.auth.models import User

from circuits.models import Revision
from circuits.services import import_text
from tests.cast import LIBRARY, MONDAY

LATER = MONDAY + timedelta(days=2)
PUMP = (LIBRARY / "fuel_pump.txt").read_text(encoding="utf-8")
#: The feed wire turns out to have poor joints on every car of the kind: 1.1 Ohm, not 2 mOhm.
POOR_JOINTS = ("3.1 m, joints 2 mOhm", "3.1 m, joints 1.1 Ohm [measured on three cars]")
#: A change that moves no reading: the coil's feed wire.
COIL_WIRE = ("1 m, joints 60 mOhm", "1 m, joints 61 mOhm")
#: TP2 was drawn to the pump's own ground pin, and is now to the battery.
OTHER_LEADS = ("TP2  V  PP - PN", "TP2  V  PP - BN")


def redrawn(circuit: Revision, change: tuple[str, str], *, by: User) -> Revision:
    old, new = change
    assert PUMP.count(old) == 1
    return import_text(
        PUMP.replace(old, new), circuit=circuit.circuit, note="Measured again.", by=by, at=LATER
    )
