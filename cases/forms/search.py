"""What past cases are searched by: readings, codes and words, any of them or all."""

import re
from collections.abc import Mapping
from datetime import datetime, timedelta

from django import forms
from django.urls import reverse_lazy

from cases.forms.fields import CircuitField
from cases.models import HELD
from cases.search.scope import Narrowing

MOST_CODES = 40
A_YEAR = timedelta(days=365)
SEARCHED_STANDINGS = ("note", "claimed", "consistent", "proven", "verified", HELD, "doubtful")
# The shape of a fault code, SAE J2012: a letter, four hexadecimal digits, perhaps a failure type.
_CODE = re.compile(r"([PBCU][0-3][0-9A-F]{3})(?:-[0-9A-F]{2})?", re.IGNORECASE)
_BETWEEN = re.compile(r"[\s,;]+")


class SearchForm(forms.Form):
    """Circuit or system, codes and words; the rows of readings stand beside it."""

    circuit = CircuitField(
        required=False,
        empty_label="any circuit",
        help_text="Needed to search by readings: it says where they were taken.",
        widget=forms.Select(
            attrs={
                "hx-get": reverse_lazy("cases:search-rows"),
                "hx-target": "#readings",
                "hx-swap": "innerHTML",
                "hx-include": "closest form",
                "hx-trigger": "change",
            }
        ),
    )
    system = forms.CharField(
        required=False, max_length=60, help_text="Such as starting, where the circuit is not known."
    )
    words = forms.CharField(
        required=False,
        max_length=300,
        label="Codes or words",
        help_text="Such as P0087 loses power.",
        widget=forms.TextInput(attrs={"type": "search", "data-key": "/"}),
    )

    standing = forms.ChoiceField(
        required=False, choices=[("", "any"), *((word, word) for word in SEARCHED_STANDINGS)]
    )
    shop = forms.SlugField(required=False, max_length=60, help_text="Its short name.")
    vehicle = forms.CharField(
        required=False, max_length=120, help_text="Make and model, as its cases have it."
    )
    age = forms.TypedChoiceField(
        required=False,
        choices=[("", "any"), ("1", "within a year"), ("3", "within 3 years"), ("10", "within 10")],
        coerce=int,
        label="Opened",
        empty_value=None,
    )
    other_makes = forms.BooleanField(
        required=False,
        label="The same symptom in other makes",
        help_text="Places are compared by what they touch, in proportion to the supply.",
    )
    fault = forms.CharField(required=False, max_length=250, widget=forms.HiddenInput)

    def narrowing(self, *, at: datetime) -> Narrowing:
        """Return what the cases are narrowed to."""
        chosen = self.cleaned_data
        return Narrowing(
            standings=frozenset(filter(None, [chosen["standing"]])),
            shop=chosen["shop"],
            vehicle=chosen["vehicle"].strip(),
            opened_since=at - chosen["age"] * A_YEAR if chosen["age"] else None,
        )

    def narrowed_words(self, names: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
        """Return what the search is narrowed to, in words by field.

        `names` says, by field and by what was asked for, how people call it.
        """
        chosen = self.cleaned_data
        found = {}
        for name in ("standing", "shop", "vehicle", "fault"):
            if chosen[name]:
                as_asked = chosen[name].rpartition("|")[2]
                found[name] = f"{name}: {names.get(name, {}).get(chosen[name], as_asked)}"
        if chosen["age"]:
            years = "a year" if chosen["age"] == 1 else f"{chosen['age']} years"
            found["age"] = f"opened within {years}"
        if chosen["other_makes"]:
            found["other_makes"] = "other makes"
        return found

    @property
    def codes(self) -> list[str]:
        """The fault codes among the words."""
        found = (_CODE.fullmatch(word) for word in self._typed)
        return [code[1].upper() for code in found if code][:MOST_CODES]

    @property
    def plain_words(self) -> str:
        """The words that are no codes."""
        return " ".join(word for word in self._typed if not _CODE.fullmatch(word))

    @property
    def _typed(self) -> list[str]:
        return [word for word in _BETWEEN.split(self.cleaned_data["words"]) if word]
