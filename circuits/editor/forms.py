"""What people fill in where a circuit is written."""

from typing import Any

from django import forms

from circuits.forms import LARGEST_BYTES, RedrawnField


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
