"""What people fill in where a circuit is written."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from circuits.forms import LARGEST_BYTES


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


class DraftForm(forms.Form):
    """A draft as text, with what publishing it asks for; the table is sent as text too."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    text = forms.CharField(
        required=False,
        strip=False,
        max_length=LARGEST_BYTES,
        label="The circuit as text",
        widget=forms.Textarea(
            attrs={"class": "listing", "rows": 30, "spellcheck": "false", "wrap": "off"}
        ),
    )
    note = forms.CharField(
        required=False,
        max_length=500,
        label="What changed, and why",
        help_text="For a new circuit: where it comes from.",
    )
    redrawn = RedrawnField(required=False)

    def __init__(self, *args: Any, publishing: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].required = publishing
        self.fields["redrawn"].required = publishing
