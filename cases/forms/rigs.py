"""Where a reading is taken, and what was unplugged, bridged or loaded for it."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from cases.circuit import CaseCircuit
from cases.documents.readings import Rig
from cases.forms.fields import QuantityField
from cases.spots import BENCH
from circuits.cautions import BRIDGES

_BETWEEN_PAIRS = re.compile(r"\s*[;,]\s*")
_BETWEEN_ENDS = re.compile(r"\s+(?:-|–|−|to)\s+|\s*[–−]\s*")


class RigForm(forms.Form):
    """A place, a phase, and what was unplugged, bridged or loaded there."""

    place = forms.ChoiceField()
    phase = forms.ChoiceField()
    unplugged = forms.ChoiceField(required=False)
    lamp = QuantityField(
        unit="W",
        above=0,
        required=False,
        label="Test lamp",
        widget=forms.TextInput(attrs={"placeholder": "none", "inputmode": "decimal"}),
    )
    also_unplugged = forms.CharField(
        required=False,
        max_length=200,
        label="Unplugged besides",
        help_text="Names of parts, with commas between.",
    )
    bridged = forms.CharField(
        required=False,
        max_length=200,
        help_text=f"Two connections, such as K30 - K87. {BRIDGES}",
    )

    power_removed = forms.BooleanField(
        required=False,
        label="Power removed",
        help_text="Battery disconnected, as its maker says. Needed to read ohms; "
        "never put an ohmmeter on airbag circuits.",
    )

    def __init__(self, *args: Any, circuit: CaseCircuit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.circuit = circuit
        self._offer("place", [*place_choices(circuit), *self._unlisted_place()])
        self._offer("phase", [*phase_choices(circuit), *self._unlisted_phase()])
        self._offer("unplugged", [("", "nothing"), *unplug_choices(circuit)])

    def _offer(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def _unlisted_place(self) -> list[tuple[str, str]]:
        """Return the place that the row stands at, where the circuit does not list it."""
        key = self._stands_at("place")
        entry = None if key in self.circuit.entries else self.circuit.entry_at(key)
        return [(key, f"{entry.label}, {entry.unit}")] if entry is not None else []

    def _unlisted_phase(self) -> list[tuple[str, str]]:
        on_bench = self._stands_at("phase") == BENCH and BENCH not in self.circuit.phases
        return [(BENCH, "on the bench")] if on_bench else []

    def _stands_at(self, name: str) -> str:
        return str(self.data.get(self.add_prefix(name)) or self.initial.get(name, ""))

    def clean_also_unplugged(self) -> tuple[str, ...]:
        return tuple(
            name.strip() for name in self.cleaned_data["also_unplugged"].split(",") if name.strip()
        )

    def clean_bridged(self) -> tuple[tuple[str, str], ...]:
        pairs = [
            pair for pair in _BETWEEN_PAIRS.split(self.cleaned_data["bridged"].strip()) if pair
        ]
        ends = [tuple(_BETWEEN_ENDS.split(pair)) for pair in pairs]
        if any(len(pair) != 2 for pair in ends):
            raise ValidationError("Write both ends of each bridge, such as K30 - K87.")
        return tuple((one, other) for one, other in ends)

    @property
    def rig(self) -> Rig:
        """What was done, once the form is valid."""
        first = self.cleaned_data.get("unplugged")
        return Rig(
            unplugged=((first,) if first else ()) + self.cleaned_data.get("also_unplugged", ()),
            bridged=self.cleaned_data.get("bridged", ()),
            lamp_watts=self.cleaned_data.get("lamp"),
            power_removed=bool(self.cleaned_data.get("power_removed")),
            ammeter_in=self.cleaned_data.get("ammeter_in", ""),
            burden_ohms=self.cleaned_data.get("burden"),
            by_drop=bool(self.cleaned_data.get("by_drop")),
        )


def rig_as_typed(rig: Rig) -> dict[str, str]:
    """Return what was done as a form holds it."""
    first, *others = rig.unplugged or ("",)
    return {
        "unplugged": first,
        "also_unplugged": ", ".join(others),
        "bridged": "; ".join(f"{one} - {other}" for one, other in rig.bridged),
        "lamp": bare(rig.lamp_watts),
        "power_removed": "on" if rig.power_removed else "",
        "ammeter_in": rig.ammeter_in,
        "burden": bare(rig.burden_ohms),
        "by_drop": "on" if rig.by_drop else "",
    }


def bare(value: float | None) -> str:
    """Return a number without its unit, as a field takes it."""
    return "" if value is None else f"{value:g}"


def place_choices(circuit: CaseCircuit) -> list[tuple[str, str]]:
    return [
        (place.key, f"{place.key}  {place.label}, {place.unit}") for place in circuit.sheet.places
    ]


def phase_choices(circuit: CaseCircuit) -> list[tuple[str, str]]:
    return [(phase.key, phase.words) for phase in circuit.sheet.phases]


def unplug_choices(circuit: CaseCircuit) -> list[tuple[str, str]]:
    return [(part.name, f"{part.name} ({part.kind})") for part in circuit.sheet.parts]
