"""The languages a shop writes in, and one word as it says it with the word that is kept for it."""

from typing import Any

from django import forms
from django.contrib.auth.models import User

from cases.forms.fields import ShopField
from cases.models.words import LONGEST_WORD
from cases.search.speech import KNOWN_LANGUAGES

KNOWN = ", ".join(KNOWN_LANGUAGES)


class LanguagesForm(forms.Form):
    """The languages that the people of a shop write in."""

    shop = ShopField()
    languages = forms.CharField(
        max_length=60,
        label="Languages your shop writes in",
        help_text=f"The usual first, such as en, de. With words of the trade: {KNOWN}.",
    )

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.auto_id = "languages-%s"  # another form with a shop stands on the page
        shop = self.fields["shop"]
        assert isinstance(shop, ShopField)
        shop.offer_shops_of(user)
        if shop.initial is not None:
            self.initial["languages"] = ", ".join(shop.initial.languages)

    def clean_languages(self) -> list[str]:
        """Return what stands between commas and blanks."""
        text: str = self.cleaned_data["languages"]
        return text.replace(",", " ").split()


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
