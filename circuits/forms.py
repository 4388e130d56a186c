"""What people fill in on the pages of circuits."""

import math
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from circuits.engine import Fault, Network, Suspect, suspects
from circuits.units import UnitError, parse_quantity

LARGEST_BYTES = 500_000


class FaultForm(forms.Form):
    """A fault and its severity, to be shown beside the healthy circuit."""

    fault = forms.ChoiceField(required=False)
    severity = forms.CharField(
        required=False,
        max_length=40,
        help_text="Such as 1.1 Ohm, 5 A or open. Left empty: open, or a dead short.",
    )

    def __init__(self, *args: Any, network: Network, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._by_id = {suspect.id: suspect for suspect in suspects(network)}
        field = self.fields["fault"]
        assert isinstance(field, forms.ChoiceField)
        groups: dict[str, list[tuple[str, str]]] = {}
        for suspect in self._by_id.values():
            groups.setdefault(suspect.target, []).append((suspect.id, suspect.describe()))
        field.choices = [("", "healthy"), *groups.items()]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        suspect = self._by_id.get(cleaned.get("fault") or "")
        text = (cleaned.get("severity") or "").strip()
        cleaned["chosen"] = None
        if suspect is None:
            return cleaned
        try:
            severity = _severity(suspect, text)
            cleaned["chosen"] = Fault(suspect=suspect, severity=severity)
        except UnitError as error:
            self.add_error("severity", str(error))
        return cleaned

    @property
    def chosen(self) -> Fault | None:
        """The fault to show, or None for the healthy circuit alone."""
        found: Fault | None = self.cleaned_data.get("chosen") if self.is_valid() else None
        return found


def _severity(suspect: Suspect, text: str) -> float:
    """Return how bad the fault is; without a number it is as bad as it can be."""
    if text.lower() == "open" or (not text and suspect.unit == "ohm" and not suspect.is_path):
        return math.inf
    if not text:
        return 0.0 if suspect.is_path else suspect.most
    return parse_quantity(text, suspect.unit).number


class SheetForm(forms.Form):
    """A circuit as text, typed or from a file, and what changed and why."""

    text = forms.CharField(
        required=False,
        strip=False,
        label="Text of the circuit",
        widget=forms.Textarea(
            attrs={"class": "listing", "rows": 24, "spellcheck": "false", "wrap": "off"}
        ),
    )
    file = forms.FileField(required=False, label="Or a file", help_text="Text or JSON.")
    note = forms.CharField(max_length=500, label="What changed, and why")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        upload = cleaned.get("file")
        if upload is not None and upload.size > LARGEST_BYTES:
            raise ValidationError(
                f"The file has {upload.size:,} bytes; a circuit has at most {LARGEST_BYTES:,}."
            )
        if upload is not None:
            cleaned["content"] = upload.read()
        elif (cleaned.get("text") or "").strip():
            cleaned["content"] = cleaned["text"]
        else:
            raise ValidationError("Type the text of the circuit, or choose a file that holds it.")
        return cleaned
