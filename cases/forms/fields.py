"""Fields that several forms share: a circuit by its title, a shop by its name."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.models import User

from cases.models import Shop
from circuits.models import Circuit

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


class ShopField(ChoiceOfShop):
    """One of the shops of a person; where there is only one it need not be asked."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Shop.objects.none(), empty_label=None, **kwargs)

    def offer_shops_of(self, user: User) -> None:
        """Offer the shops this person belongs to."""
        shops = Shop.objects.visible_to(user)
        self.queryset = shops
        if len(shops) == 1:
            self.widget = forms.HiddenInput()
            self.initial = shops[0]

    def label_from_instance(self, obj: Shop) -> str:
        return str(obj.name)
