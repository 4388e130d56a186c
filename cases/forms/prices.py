"""What an hour of work and a part cost, to hold one more reading against the wrong part."""

import math
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from cases.documents.next_reading import Prices

MOST = 1e7


class PriceField(forms.Field):
    """A price in whatever money; comma and point are decimal marks."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})

    def to_python(self, value: Any) -> float:
        try:
            price = float(str(value).replace(",", "."))
        except ValueError:
            price = math.nan
        if not 0 <= price <= MOST:
            raise ValidationError("Type a number, such as 60 or 12.50.")
        return price


class PricesForm(forms.Form):
    """Both prices, in the same money."""

    hour_price = PriceField(label="An hour of work costs")
    part_price = PriceField(label="The part, fitted, costs")

    @property
    def prices(self) -> Prices | None:
        """Both prices, where they were asked with and can be read."""
        return Prices(**self.cleaned_data) if self.is_valid() else None
