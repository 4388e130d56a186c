"""One word as a shop says it, and the word that is kept for it."""

from typing import Any

from django import forms
from django.contrib.auth.models import User

from cases.forms.fields import ShopField
from cases.models.words import LONGEST_WORD


class WordForm(forms.Form):
    """What is said, and what is meant by it."""

    shop = ShopField()
    said = forms.CharField(
        max_length=LONGEST_WORD, label="What people say", help_text="Such as dynamo."
    )
    kept = forms.CharField(
        max_length=LONGEST_WORD, label="What it is", help_text="Such as generator."
    )
    language = forms.CharField(max_length=8, initial="en", help_text="en, de, nl, en-GB ...")

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop = self.fields["shop"]
        assert isinstance(shop, ShopField)
        shop.offer_shops_of(user)
