"""An older log: its file, the shop it comes into, and what is to be done with it."""

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from cases.forms.fields import ShopField
from cases.models import Role, Wanted
from cases.services.older_logs.log_file import LARGEST_BYTES


class WantedForm(forms.Form):
    """What is to be done with a log."""

    wanted = forms.ChoiceField(
        label="What to do with it",
        choices=Wanted.choices,
        initial=Wanted.CHECK,
        widget=forms.RadioSelect,
    )

    def clean_wanted(self) -> Wanted:
        return Wanted(self.cleaned_data["wanted"])


class OlderLogForm(WantedForm):
    """The file of an older log, and the shop that owns it."""

    file = forms.FileField(
        label="File",
        help_text=f"CSV or JSON lines, UTF-8, at most {LARGEST_BYTES // 1_000_000} MB.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.jsonl,.ndjson,text/csv"}),
    )
    shop = ShopField()

    field_order = ("file", "shop", "wanted")

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop = self.fields["shop"]
        assert isinstance(shop, ShopField)
        shop.offer_shops_of(user, role=Role.OWNER)

    def clean_file(self) -> bytes:
        upload = self.cleaned_data["file"]
        if upload.size > LARGEST_BYTES:
            raise ValidationError(
                f"The file has {upload.size:,} bytes; at most {LARGEST_BYTES:,} are taken at once. "
                "Bring it in as several files."
            )
        self.file_name = str(upload.name)
        return bytes(upload.read())
