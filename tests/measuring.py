"""A converter with a rule that may be otherwise, and readings of healthy vehicles."""

from typing import Any

from django.contrib.auth.models import User

from circuits.models import Reference, Revision
from circuits.on_vehicles.references import keep_reference
from tests.cast import LIBRARY, MONDAY

QB = "watching IB - MG, closes above 6.0 V, opens below 4.0 V, made 40 mOhm, assumed"
#: The brake output may follow the tail lamp's wire: lit with the lights on, no brake pressed.
OR_TAIL = f"{QB}, or watching IT - MG"
#: The converter with its rule as if nobody had doubted it.
CONVERTER = (LIBRARY / "trailer_converter.txt").read_text(encoding="utf-8").replace(OR_TAIL, QB)


def with_alternative(words: str = OR_TAIL) -> str:
    assert CONVERTER.count(QB) == 1
    return CONVERTER.replace(QB, words)


def keep(revision: Revision, reading: str, *, by: User, **more: Any) -> Reference:
    given = {"place": "TP1", "phase": "prime", "vehicle": "Tolvane Juniver 2016", **more}
    if revision.circuit.key == "trailer-converter":
        given["phase"] = "tail"
    return keep_reference(circuit=revision.circuit, reading=reading, by=by, at=MONDAY, **given)
