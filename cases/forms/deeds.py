"""What is done with a case after it was written up: claim, repair, circuit, withdrawal."""

import math
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError

from cases.circuit import CaseCircuit
from cases.documents.cases import Repair
from cases.documents.verdicts import VerdictDocument
from cases.forms.fields import CircuitField, ShopField, TextOfTheTrade
from cases.models import HEALTHY, Outcome
from cases.services.exchange import LARGEST_CHARACTERS
from circuits.engine import FaultKind, Suspect
from circuits.models import Circuit
from circuits.units import UnitError, parse_quantity

FITTING = "fits"
KIND_WORDS = {
    FaultKind.RESISTANCE: "High resistance or open",
    FaultKind.BYPASS: "Bridged, stuck closed or shorted inside",
    FaultKind.GROUND_SHORT: "Short or leakage to ground",
    FaultKind.SUPPLY_SHORT: "Short or leakage to supply",
    FaultKind.LOW_VOLTS: "Weak source",
    FaultKind.LIMITED: "Limited source",
    FaultKind.DRAGS: "Dragging motor",
    FaultKind.DRAWS_MORE: "Draws too much",
    FaultKind.NEIGHBOUR_SHORT: "Short or leakage to the pin beside it",
    FaultKind.DRIFTS_UP: "Sensor off, too high",
    FaultKind.DRIFTS_DOWN: "Sensor off, too low",
    FaultKind.WRONG_HIGH: "Wrong part fitted, with more of it",
    FaultKind.WRONG_LOW: "Wrong part fitted, with less of it",
    FaultKind.DISCHARGED: "Discharged battery",
    FaultKind.REVERSED: "Battery the wrong way round",
    FaultKind.FALLS_BACK: "Generator falls back",
    FaultKind.LOST_PHASE: "Generator with a phase lost",
    FaultKind.SEIZED: "Seized motor",
    FaultKind.RETURN_ELSEWHERE: "Return fitted to the battery post",
    FaultKind.NAMED: "Fault with a name of its own",
}

Choices = list[tuple[str, Any]]


def suspect_choices(circuit: CaseCircuit, verdict: VerdictDocument | None = None) -> Choices:
    """Return the faults this circuit can have, grouped; those that fit the readings stand first."""
    judged = verdict.before.findings if verdict is not None and verdict.before is not None else ()
    fitting = [finding.suspect for finding in judged if finding.outcome == FITTING]
    groups: Choices = []
    if fitting:
        first = [_choice(circuit.suspects[name]) for name in fitting if name in circuit.suspects]
        groups.append(("Fit the readings so far", first))
    for kind, words in KIND_WORDS.items():
        members = [
            _choice(suspect)
            for suspect in circuit.suspects.values()
            if suspect.kind == kind and suspect.id not in fitting
        ]
        if members:
            groups.append((words, members))
    groups.append(("No fault", [(HEALTHY, "The circuit is in order")]))
    return [("", "Choose…"), *groups]


def _choice(suspect: Suspect) -> tuple[str, str]:
    return suspect.id, suspect.describe()


class SuspectForm(forms.Form):
    """One fault of a circuit, chosen by name."""

    suspect = forms.ChoiceField(label="Fault")

    def __init__(
        self,
        *args: Any,
        circuit: CaseCircuit,
        verdict: VerdictDocument | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.circuit = circuit
        field = self.fields["suspect"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = suspect_choices(circuit, verdict)


class ClaimForm(SuspectForm):
    """The fault that is claimed, and its severity where it was measured at the part itself."""

    severity = forms.CharField(
        required=False,
        max_length=40,
        label="Measured at the part itself",
        help_text="Such as 1.1 Ohm, or open. Left empty, the readings say what it must have been.",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        text = (cleaned.get("severity") or "").strip()
        suspect = self.circuit.suspects.get(cleaned.get("suspect", ""))
        cleaned["severity"] = None
        if not text:
            return cleaned
        if suspect is None:
            self.add_error("severity", "A severity belongs to a fault; choose the fault first.")
        elif text.lower() == "open" and suspect.kind == FaultKind.RESISTANCE:
            cleaned["severity"] = math.inf
        else:
            try:
                cleaned["severity"] = parse_quantity(text, suspect.unit).number
            except UnitError as error:
                self.add_error("severity", str(error))
        return cleaned


class RepairForm(forms.Form):
    """What was done, how it ended, and a word for whoever comes next."""

    part_replaced = TextOfTheTrade(
        rows=3,
        required=False,
        max_length=20_000,
        label="What was done",
        help_text="The part fitted or mended, and where. A part fitted is no evidence by itself.",
    )
    outcome = forms.ChoiceField(choices=Outcome.choices, label="How it ended")
    clean_tries_after = forms.IntegerField(
        required=False, min_value=0, max_value=9999, label="Tries after it without the symptom"
    )
    what_decided = TextOfTheTrade(rows=2, required=False, max_length=20_000)
    what_misled = TextOfTheTrade(rows=2, required=False, max_length=20_000)

    @property
    def repair(self) -> Repair:
        """The repair, once the form is valid."""
        return Repair(**self.cleaned_data)


class ReasonForm(forms.Form):
    """Why something is taken out of use."""

    reason = forms.CharField(max_length=500, label="Why it is withdrawn")


class ChooseCircuitForm(forms.Form):
    """Which circuit a case is about."""

    circuit = CircuitField(empty_label="Choose…")

    def clean_circuit(self) -> Circuit:
        circuit: Circuit = self.cleaned_data["circuit"]
        if not circuit.revisions.exists():
            raise ValidationError("This circuit has no published revision yet.")
        return circuit


class FileForm(forms.Form):
    """A file that was taken out before, here or elsewhere."""

    LARGEST_BYTES = 2_000_000

    file = forms.FileField(label="File")

    def clean_file(self) -> str:
        upload = self.cleaned_data["file"]
        if upload.size > self.LARGEST_BYTES:
            raise ValidationError(
                f"The file has {upload.size:,} bytes; at most {self.LARGEST_BYTES:,} are taken."
            )
        try:
            return str(upload.read().decode("utf-8-sig"))
        except UnicodeDecodeError:
            raise ValidationError(
                "The file is no text in UTF-8; save it as UTF-8 and try again."
            ) from None


class BringInForm(FileForm):
    """A case from a file, with the photos of its readings, and the shop it comes into."""

    LARGEST_BYTES = LARGEST_CHARACTERS

    shop = ShopField()

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shop = self.fields["shop"]
        assert isinstance(shop, ShopField)
        shop.offer_shops_of(user)
