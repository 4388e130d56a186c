"""An instrument of one's own, as it is typed from its booklet."""

from typing import Any

from django import forms

from cases.documents.readings import Instrument
from cases.forms.fields import clamp_floor_field, lead_ohms_field, meter_field
from cases.models.instruments import LONGEST_NAME, OwnInstrument

PERCENT = 100.0


class InstrumentForm(forms.Form):
    """What a meter or clamp is called, and what it may be off by. Empty is a common one's."""

    name = forms.CharField(max_length=LONGEST_NAME, help_text="Such as: yellow meter.")
    percent = forms.FloatField(
        min_value=0,
        max_value=PERCENT,
        required=False,
        label="Accuracy, % of the reading",
        widget=forms.TextInput(attrs={"placeholder": "0.5", "inputmode": "decimal"}),
    )
    counts = forms.FloatField(
        min_value=0,
        required=False,
        label="and counts",
        help_text="Steps of the last digit.",
        widget=forms.TextInput(attrs={"placeholder": "2", "inputmode": "decimal"}),
    )
    input_ohms = meter_field()
    floor_amps = clamp_floor_field()
    lead_ohms = lead_ohms_field()

    @property
    def instrument(self) -> Instrument:
        """The instrument, once the form is valid."""
        figures = {name: value for name, value in self.cleaned_data.items() if name != "percent"}
        percent = self.cleaned_data["percent"]
        fraction = None if percent is None else percent / PERCENT
        return Instrument(reading_fraction=fraction, **figures)


def as_typed(saved: OwnInstrument) -> dict[str, Any]:
    """Return a saved instrument as the form holds it."""
    figures = {
        "percent": None if saved.reading_fraction is None else saved.reading_fraction * PERCENT,
        **{name: getattr(saved, name) for name in ("counts", "input_ohms", "floor_amps")},
        "lead_ohms": saved.lead_ohms,
    }
    typed = {name: "" if value is None else f"{value:g}" for name, value in figures.items()}
    return {"name": saved.name, **typed}
