"""A new case: the vehicle, the complaint, the circuit and the codes."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.urls import reverse_lazy
from pydantic import ValidationError as DocumentError

from cases.circuit import CaseCircuit
from cases.documents.cases import CaseFacts, CodeFacts, VainPart, VehicleFacts
from cases.forms.fields import CircuitField, ShopField, TextOfTheTrade
from cases.forms.rigs import phase_choices
from cases.models import Case, CodeStatus, Symptom
from cases.models.choices import CODE_LENGTH
from cases.vin import LENGTH as VIN_LENGTH
from cases.vin import normal_vin
from circuits.codes.failure_modes import MOST_FMI, with_fmi, without_fmi

MOST_CODES = 40
LONGEST_PART = 120
_CODE = re.compile(r"[PCBU][0-9A-F]{4}")
_BETWEEN = re.compile(r"[,;\n]")
_HOURS = re.compile(r"(.+?),\s*([0-9]+(?:[.,][0-9]+)?)\s*h")


class FactsForm(forms.Form):
    """What a person tells about a job, apart from readings, claim and repair."""

    make = forms.CharField(max_length=60, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    model = forms.CharField(
        max_length=80, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    engine = forms.CharField(max_length=80, required=False)
    year = forms.IntegerField(min_value=1900, max_value=2100, required=False)
    plate = forms.CharField(max_length=20, required=False, help_text="Stays in your shop.")
    vin = forms.CharField(
        max_length=40, required=False, label="VIN", help_text="Stays in your shop."
    )
    complaint = TextOfTheTrade(
        rows=3,
        max_length=20_000,
        label="Complaint, in the driver's words",
        help_text="As it was said. No cause here: what it was comes later.",
    )
    symptom = forms.ChoiceField(required=False, choices=[("", "Choose…"), *Symptom.choices])
    conditions = TextOfTheTrade(
        rows=2,
        max_length=20_000,
        required=False,
        label="When, how often, since what",
    )
    tries_before = forms.IntegerField(
        min_value=0, max_value=9999, required=False, label="Tried how many times"
    )
    hits_before = forms.IntegerField(
        min_value=0, max_value=9999, required=False, label="Symptom shown how often"
    )
    parts_in_vain = forms.CharField(
        required=False,
        max_length=4000,
        label="Parts fitted in vain before",
        help_text="A line for each, with the hours if you know them: fuel pump, 1.5 h",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    monitors_passed = forms.CharField(
        required=False,
        max_length=4000,
        label="Codes not set although their monitor ran",
        help_text="Such as P0118, P0117. A code that is not there says nothing unless its "
        "monitor ran.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    system = forms.CharField(
        max_length=60,
        required=False,
        help_text="Such as starting, charging, fuel. A chosen circuit says it by itself.",
    )
    complaint_phase = forms.ChoiceField(
        required=False,
        label="Phase in which the complaint shows",
        help_text="Readings that count are taken in this phase.",
    )

    def __init__(self, *args: Any, circuit: CaseCircuit | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if circuit is None:
            # Without a circuit there are no phases to choose from.
            del self.fields["complaint_phase"]
        else:
            field = self.fields["complaint_phase"]
            assert isinstance(field, forms.ChoiceField)
            field.choices = [("", "not known"), *phase_choices(circuit)]

    def clean_vin(self) -> str:
        vin = normal_vin(self.cleaned_data["vin"])
        if len(vin) > VIN_LENGTH:
            raise ValidationError(
                f"A VIN has {VIN_LENGTH} characters; this has {len(vin)}. Leave out the rest."
            )
        return vin

    def clean_parts_in_vain(self) -> tuple[VainPart, ...]:
        lines = [line.strip() for line in self.cleaned_data["parts_in_vain"].splitlines()]
        return tuple(_vain_part(line) for line in lines if line)

    def clean_monitors_passed(self) -> tuple[str, ...]:
        typed = _BETWEEN.split(self.cleaned_data["monitors_passed"].upper())
        codes = list(dict.fromkeys(code for words in typed for code in _codes_in(words)))
        too_long = next((code for code in codes if len(code) > CODE_LENGTH), None)
        if too_long is not None:
            raise ValidationError(
                f"'{too_long}' is no code: put a comma between two codes, such as P0118, P0117."
            )
        if len(codes) > MOST_CODES:
            raise ValidationError(f"At most {MOST_CODES} codes can be told here.")
        return tuple(codes)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        tries, hits = cleaned.get("tries_before"), cleaned.get("hits_before")
        if hits is not None and (tries is None or hits > tries):
            self.add_error(
                "hits_before", "The symptom cannot have shown more often than it was tried."
            )
        return cleaned

    def facts(self, codes: tuple[CodeFacts, ...]) -> CaseFacts:
        """Return the facts, once the form is valid."""
        cleaned = self.cleaned_data
        vehicle = {
            name: cleaned[name] for name in ("make", "model", "engine", "year", "plate", "vin")
        }
        story = {
            name: cleaned[name]
            for name in (
                "complaint",
                "symptom",
                "conditions",
                "tries_before",
                "hits_before",
                "parts_in_vain",
                "monitors_passed",
                "system",
            )
        }
        story["complaint_phase"] = cleaned.get("complaint_phase", "")
        return CaseFacts(vehicle=VehicleFacts(**vehicle), codes=codes, **story)


class NewCaseForm(FactsForm):
    """The facts, and which shop's case and which circuit it is."""

    shop = ShopField()
    circuit = CircuitField(
        required=False,
        empty_label="Not known yet",
        help_text="Its places and phases are what readings are logged at.",
        widget=forms.Select(
            attrs={
                "hx-post": reverse_lazy("cases:new-redrawn"),
                "hx-target": "#readings",
                "hx-swap": "innerHTML",
                "hx-include": "closest form",
                "hx-trigger": "change",
            }
        ),
    )
    comeback_of = forms.CharField(
        required=False,
        max_length=80,
        label="Comes back from case",
        help_text="The earlier case's key, such as kilnfield-17, where the job has come back.",
    )

    def __init__(
        self, user: User, *args: Any, circuit: CaseCircuit | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, circuit=circuit, **kwargs)
        self.user = user
        shop = self.fields["shop"]
        assert isinstance(shop, ShopField)
        shop.offer_shops_of(user)

    def clean_comeback_of(self) -> Case | None:
        key = self.cleaned_data["comeback_of"].strip()
        if not key:
            return None
        slug, _, number = key.rpartition("-")
        found = (
            Case.objects.visible_to(self.user)
            .filter(shop__slug=slug, number=int(number) if number.isdecimal() else 0)
            .first()
        )
        if found is None:
            raise ValidationError(
                f"There is no case {key} that you can see. Look it up under Cases."
            )
        return found


def _codes_in(words: str) -> list[str]:
    """Return codes typed with spaces between them; one that holds spaces of its own stays whole."""
    codes = words.split()
    return codes if all(map(_CODE.fullmatch, codes)) else [" ".join(codes)]


def _vain_part(line: str) -> VainPart:
    found = _HOURS.fullmatch(line)
    part, hours = (found[1].strip(), found[2]) if found else (line, None)
    if len(part) > LONGEST_PART:
        raise ValidationError(
            f"A part takes at most {LONGEST_PART} characters; put each on a line of its own."
        )
    try:
        return VainPart(part=part, hours=Decimal(hours.replace(",", ".")) if hours else None)
    except DocumentError:
        raise ValidationError(
            f"'{line}': hours go to two decimals and below ten thousand, such as 1.5 h."
        ) from None


def vain_part_line(part: str, hours: Decimal | None) -> str:
    """Return a part fitted in vain as it is typed."""
    return part if hours is None else f"{part}, {hours.normalize():f} h"


class CodeForm(forms.Form):
    """A fault code as a module gave it."""

    code = forms.CharField(
        max_length=CODE_LENGTH,
        required=False,
        widget=forms.TextInput(
            attrs={"placeholder": "P0087", "autocapitalize": "characters", "data-row-value": ""}
        ),
    )
    failure_type = forms.RegexField(
        regex=r"^[0-9A-Fa-f]{2}$",
        required=False,
        max_length=2,
        label="Failure type",
        error_messages={"invalid": "The failure type is two digits from 0 to F, such as 1C."},
    )
    fmi = forms.IntegerField(
        min_value=0,
        max_value=MOST_FMI,
        required=False,
        label="FMI",
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={"invalid": f"The FMI of a heavy vehicle's code is a number to {MOST_FMI}."},
    )
    module = forms.CharField(max_length=60, required=False)
    status = forms.ChoiceField(required=False, choices=[("", "not noted"), *CodeStatus.choices])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        code, fmi = cleaned.get("code", ""), cleaned.get("fmi")
        if not code and (any(cleaned.values()) or fmi is not None):
            self.add_error("code", "Write the code this belongs to, or empty the row.")
        if not code or self.errors:
            return cleaned
        written = without_fmi(code)[1]
        if None not in (fmi, written) and fmi != written:
            self.add_error("fmi", "The code has another FMI behind it; tell one of them.")
        elif cleaned.get("failure_type") and (fmi, written) != (None, None):
            self.add_error("failure_type", "A code has a failure type or an FMI, not both.")
        elif fmi is not None and len(with_fmi(code, fmi)) > CODE_LENGTH:
            self.add_error("code", f"With its FMI it is longer than {CODE_LENGTH} characters.")
        return cleaned

    @property
    def facts(self) -> CodeFacts:
        """The code, once the form is valid."""
        names = ("code", "failure_type", "fmi", "module", "status")
        return CodeFacts.model_validate({name: self.cleaned_data[name] for name in names})


def code_row(facts: CodeFacts) -> dict[str, Any]:
    """Return a code as a row of the form holds it, its FMI in a field of its own."""
    return {**facts.model_dump(), "code": without_fmi(facts.code)[0]}


if TYPE_CHECKING:
    RowsOfCodes = forms.BaseFormSet["CodeForm"]
else:
    RowsOfCodes = forms.BaseFormSet


class CodeRows(RowsOfCodes):
    """The codes of a case."""

    def clean(self) -> None:
        seen = [(code.code, code.failure_type, code.module) for code in self.codes]
        twice = next((code[0] for code in seen if seen.count(code) > 1), None)
        if twice is not None:
            raise ValidationError(f"{twice} is listed twice for the same module; list it once.")

    @property
    def codes(self) -> tuple[CodeFacts, ...]:
        """The codes that were typed, once the rows are valid."""
        return tuple(
            row.facts
            for row in self.forms
            if row not in self.deleted_forms and row.is_valid() and row.cleaned_data.get("code")
        )


def code_rows(
    *,
    data: Mapping[str, Any] | None = None,
    initial: list[dict[str, Any]] | None = None,
    extra: int = 1,
) -> CodeRows:
    """Return rows for fault codes, bound to what was sent if there is any."""
    rows = forms.formset_factory(
        CodeForm,
        formset=CodeRows,
        extra=extra,
        can_delete=True,
        max_num=MOST_CODES,
        absolute_max=MOST_CODES + 1,
    )
    return cast(CodeRows, rows(data, prefix="codes", initial=initial))
