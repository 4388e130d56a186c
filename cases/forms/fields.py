"""Fields that several forms share: a circuit, a shop, a quantity as typed on the bench."""

import json
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.urls import reverse

from cases.models import Role, Shop
from circuits.models import Circuit
from circuits.units import UnitError, parse_quantity

if TYPE_CHECKING:
    ChoiceOfCircuit = forms.ModelChoiceField[Circuit]
    ChoiceOfShop = forms.ModelChoiceField[Shop]
else:
    ChoiceOfCircuit = ChoiceOfShop = forms.ModelChoiceField


class CircuitField(ChoiceOfCircuit):
    """One of the stored circuits, by key in the address and by title on the page."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            queryset=Circuit.objects.order_by("system", "title"), to_field_name="key", **kwargs
        )

    def label_from_instance(self, obj: Circuit) -> str:
        return f"{obj.title} ({obj.system})"


class TextOfTheTrade(forms.CharField):
    """A text in which words that may be misspelt are asked about while it is typed."""

    asks_spelling = True

    def __init__(self, *, rows: int, **kwargs: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": rows}), **kwargs)

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        """Let the field ask by the name that it has in this form, of which it sends no more."""
        name = form.add_prefix(field_name)
        self.widget.attrs |= {
            "hx-post": reverse("cases:spelling"),
            "hx-params": f"{name}, asks, csrfmiddlewaretoken",
            "hx-vals": json.dumps({"asks": name}),
            "hx-trigger": "input changed delay:700ms",
            "hx-target": "next .spelling",
            "hx-swap": "innerHTML",
            "hx-sync": "this:replace",
        }
        return super().get_bound_field(form, field_name)


def photo_field(*, help_text: str, **kwargs: Any) -> forms.FileField:
    """Return a field for a picture; a telephone opens its camera for it."""
    camera = {"accept": "image/jpeg,image/png,image/webp", "capture": "environment"}
    widget = forms.FileInput(attrs=camera)
    return forms.FileField(label="Photo", help_text=help_text, widget=widget, **kwargs)


class ShopField(ChoiceOfShop):
    """One of the shops of a person; where there is only one it need not be asked."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Shop.objects.none(), empty_label=None, **kwargs)

    def offer_shops_of(self, user: User, *, role: Role | None = None) -> None:
        """Offer the shops this person belongs to, in this role if one is asked for."""
        shops = Shop.objects.visible_to(user) if role is None else Shop.objects.where(user, role)
        self.queryset = shops
        if len(shops) == 1:
            self.widget = forms.HiddenInput()
            self.initial = shops[0]

    def label_from_instance(self, obj: Shop) -> str:
        return str(obj.name)


#: A browser neither completes nor mends what a display shows.
AS_TYPED = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}


class QuantityField(forms.CharField):
    """A number with its unit, typed as on the bench; cleans to the value in the base unit.

    It lies above `above`, and from `least` to `most`, where these are given.
    """

    def __init__(
        self,
        *,
        unit: str,
        above: float = -math.inf,
        least: float = -math.inf,
        most: float = math.inf,
        **kwargs: Any,
    ) -> None:
        self.unit = unit
        self.above, self.least, self.most = above, least, most
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            value = parse_quantity(text, self.unit).number
        except UnitError as error:
            raise ValidationError(str(error), code="quantity") from None
        if value <= self.above:
            raise ValidationError(f"Write a number above {self.above:g}.", code="quantity")
        if not self.least <= value <= self.most:
            upper = f" to {self.most:g}" if math.isfinite(self.most) else " up"
            raise ValidationError(f"Write a number from {self.least:g}{upper}.", code="quantity")
        return value


def supply_field() -> QuantityField:
    """Return a field for the volts of the battery in the same minute."""
    return QuantityField(
        unit="V",
        above=0,
        required=False,
        label="Battery, same minute",
        widget=forms.TextInput(attrs={"placeholder": "V", "inputmode": "decimal"}),
    )


def instrument_field() -> forms.ChoiceField:
    """Return a field for the instrument of one's own that a reading was taken with."""
    return forms.ChoiceField(required=False, label="Instrument")


def offer_instruments(form: forms.Form, names: Sequence[str], kept: str = "") -> None:
    """Offer a person's instruments, the one used last first; without any nothing is asked.

    `kept` is the instrument of a line that is corrected, perhaps somebody else's.
    """
    field = form.fields["instrument"]
    assert isinstance(field, forms.ChoiceField)
    offered = [*names, *([kept] if kept and kept not in names else [])]
    if not offered:
        del form.fields["instrument"]
        return
    field.choices = [*((name, name) for name in offered), ("", "a common one")]
    field.initial = offered[0]


def meter_field() -> QuantityField:
    """Return a field for what the meter's own input resists."""
    return QuantityField(
        unit="ohm",
        above=0,
        required=False,
        label="Meter's input",
        widget=forms.TextInput(attrs={"placeholder": "10 MOhm"}),
    )


def clamp_floor_field() -> QuantityField:
    """Return a field for what a clamp may show with nothing in it."""
    return QuantityField(
        unit="A",
        least=0,
        required=False,
        label="Clamp's floor",
        help_text="How many amps it may be off at zero.",
        widget=forms.TextInput(attrs={"placeholder": "0.1 A"}),
    )


def lead_ohms_field() -> QuantityField:
    """Return a field for what the leads of an ohmmeter resist."""
    return QuantityField(
        unit="ohm",
        least=0,
        most=10,
        required=False,
        label="Leads held together",
        help_text="What the ohmmeter then shows; 0 where it subtracts them.",
        widget=forms.TextInput(attrs={"placeholder": "0.3 Ohm"}),
    )
