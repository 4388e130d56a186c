"""What a list of cases is narrowed by; all of it stands in the address."""

from datetime import datetime
from typing import Any

from django import forms
from django.contrib.auth.models import User

from cases.forms.fields import CircuitField
from cases.models import HELD, Outcome, Shop
from cases.models.case import CaseQuerySet

SHARED = "shared"
STANDINGS = ("note", "claimed", "consistent", "proven", "verified", HELD, "doubtful", "withdrawn")


class CaseFilterForm(forms.Form):
    """Standing, circuit, shop, state; a value that is not known narrows nothing."""

    standing = forms.ChoiceField(required=False)
    circuit = CircuitField(required=False, empty_label="any")
    shop = forms.ChoiceField(required=False)
    outcome = forms.ChoiceField(
        required=False, choices=[("", "any"), *Outcome.choices], label="How it ended"
    )

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.own_shops = list(Shop.objects.visible_to(user))
        self._offer("standing", [("", "any"), *((word, word) for word in STANDINGS)])
        own = [(shop.slug, shop.name) for shop in self.own_shops]
        self._offer("shop", [("", "all I may see"), *own, (SHARED, "shared by others")])

    def _offer(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def narrowed(self, cases: CaseQuerySet, *, at: datetime) -> CaseQuerySet:
        """Return the cases that the filled-in fields leave."""
        self.full_clean()
        chosen = self.cleaned_data
        if chosen.get("standing"):
            cases = cases.standing_as(chosen["standing"], at)
        if chosen.get("circuit"):
            cases = cases.for_circuit(chosen["circuit"])
        if chosen.get("outcome"):
            cases = cases.filter(outcome=chosen["outcome"])
        if chosen.get("shop") == SHARED:
            cases = cases.exclude(shop__in=self.own_shops)
        elif chosen.get("shop"):
            cases = cases.filter(shop__slug=chosen["shop"])
        return cases

    @property
    def is_narrowed(self) -> bool:
        """Whether anything is filled in."""
        return any(self.cleaned_data.get(name) for name in self.fields)
