"""A test sheet or bench sheet as a form: what each check showed, logged together or not at all."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django import forms

from cases.circuit import CaseCircuit
from cases.documents.readings import Instrument, NewReading
from cases.errors import CaseError
from cases.forms.fields import (
    AS_TYPED,
    instrument_field,
    meter_field,
    offer_instruments,
    supply_field,
)
from cases.forms.readings import SYMPTOM_WORDS, echo_attributes, without_place
from cases.models import Stage, SymptomPresent
from cases.services.readings import understand_to_log
from cases.sheet_rows import SheetRow
from cases.spots import BENCH

STAGES = ((Stage.BEFORE.value, "before the repair"), (Stage.AFTER.value, "after it"))


class SheetForm(forms.Form):
    """What each check of a sheet showed. A check without digits is left out."""

    stage = forms.ChoiceField(choices=STAGES, label="Taken")
    symptom_present = forms.ChoiceField(
        label="Symptom meanwhile", choices=SYMPTOM_WORDS, required=False
    )
    supply_volts = supply_field()
    instrument = instrument_field()
    meter_ohms = meter_field()

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        circuit: CaseCircuit,
        rows: Sequence[SheetRow],
        echo_at: str,
        initial: Mapping[str, Any] | None = None,
        instruments: Sequence[str] = (),
    ) -> None:
        super().__init__(data, initial=dict(initial or {}))
        offer_instruments(self, instruments)
        self.circuit, self.rows = circuit, rows
        self.on_bench = all(row.phase == BENCH for row in rows)
        if self.on_bench:
            del self.fields["symptom_present"], self.fields["supply_volts"]
        for number, row in enumerate(rows):
            self.fields[_name_of(number)] = forms.CharField(
                required=False,
                max_length=40,
                label=row.what,
                widget=forms.TextInput(attrs=AS_TYPED | echo_attributes(echo_at)),
            )

    @property
    def steps(self) -> Iterator[tuple[SheetRow, forms.BoundField]]:
        """Yield each check with its field."""
        for number, row in enumerate(self.rows):
            yield row, self[_name_of(number)]

    @property
    def conditions(self) -> list[forms.BoundField]:
        """Return what holds for all checks alike."""
        return [self[name] for name in self.base_fields if name in self.fields]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name, reading in self._typed():
            try:
                understand_to_log(self.circuit, reading)
            except CaseError as error:
                self.add_error(name, without_place(error))
        return cleaned

    @property
    def readings(self) -> list[NewReading]:
        """The readings that were typed, once the form is valid."""
        return [reading for _, reading in self._typed()]

    def _typed(self) -> Iterator[tuple[str, NewReading]]:
        cleaned = self.cleaned_data
        for number, row in enumerate(self.rows):
            text = cleaned.get(_name_of(number), "")
            if not text:
                continue
            yield (
                _name_of(number),
                NewReading(
                    place=row.place,
                    phase=row.phase,
                    text=text,
                    symptom_present=SymptomPresent(
                        cleaned.get("symptom_present") or SymptomPresent.UNKNOWN
                    ),
                    stage=Stage(cleaned.get("stage") or Stage.BEFORE),
                    supply_volts=cleaned.get("supply_volts"),
                    instrument=Instrument(
                        name=cleaned.get("instrument", ""), input_ohms=cleaned.get("meter_ohms")
                    ),
                ),
            )


def _name_of(number: int) -> str:
    return f"row-{number}-text"
