"""What people fill in on the pages of circuits."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from circuits.addresses import LONGEST_NUMBER
from circuits.engine import Fault, Network, suspects
from circuits.errors import BadSeverity
from circuits.faults import named_fault

LARGEST_BYTES = 500_000


class RedrawnField(forms.ChoiceField):
    """Asks whose drawing it is; a maker's page stays with the shop that has it."""

    OWN, MAKERS = "own", "maker"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            label="Redrawn by you?",
            choices=[
                (self.OWN, "Yes, drawn at the vehicle or anew in our own way"),
                (self.MAKERS, "No, it is the maker's page"),
            ],
            widget=forms.RadioSelect,
            help_text="Name the drawing that you read it from; do not copy it.",
            **kwargs,
        )

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value == self.MAKERS:
            raise ValidationError(
                "A maker's page stays in your shop. Draw the circuit anew in your own way, and "
                "name the page under 'drawing'."
            )


def fault_choices(network: Network) -> list[tuple[str, str | list[tuple[str, str]]]]:
    """Return every fault of a circuit to choose from, by what it befalls; first, none."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for suspect in suspects(network):
        groups.setdefault(suspect.target, []).append((suspect.id, suspect.describe()))
    return [("", "healthy"), *groups.items()]


class FaultForm(forms.Form):
    """A fault and its severity, to be shown beside the healthy circuit."""

    fault = forms.ChoiceField(required=False)
    severity = forms.CharField(
        required=False,
        max_length=40,
        help_text="Such as 1.1 Ohm, 5 A, open or short. Left empty: as bad as it can be.",
    )

    def __init__(self, *args: Any, network: Network, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._network = network
        field = self.fields["fault"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = fault_choices(network)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        cleaned["chosen"] = None
        if cleaned.get("fault"):
            try:
                cleaned["chosen"] = named_fault(
                    self._network, cleaned["fault"], cleaned.get("severity") or ""
                )
            except BadSeverity as error:
                self.add_error("severity", str(error))
        return cleaned

    @property
    def chosen(self) -> Fault | None:
        """The fault to show, or None for the healthy circuit alone."""
        found: Fault | None = self.cleaned_data.get("chosen") if self.is_valid() else None
        return found


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
    redrawn = RedrawnField()
    #: The revision that the text was made from; empty for a text from elsewhere.
    base = forms.IntegerField(
        required=False, min_value=0, max_value=10**LONGEST_NUMBER, widget=forms.HiddenInput
    )

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
