"""Rows of readings: where, in which phase, with what in or out, and what the display showed."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, cast

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.urls import reverse
from django.utils.datastructures import MultiValueDict

from cases.circuit import CaseCircuit
from cases.documents.readings import Instrument, NewReading
from cases.errors import (
    CaseError,
    OhmsOnLiveParts,
    PhaseNotInCircuit,
    PlaceNotInCircuit,
    UnreadableReading,
)
from cases.forms.fields import (
    AS_TYPED,
    QuantityField,
    clamp_floor_field,
    instrument_field,
    lead_ohms_field,
    meter_field,
    offer_instruments,
    photo_field,
    supply_field,
)
from cases.forms.rigs import RigForm
from cases.models import Stage, Statistic, SymptomPresent
from cases.services.photos import LARGEST_BYTES
from cases.services.readings import understand_to_log
from circuits.addresses import number_in
from circuits.engine import COLDEST_CELSIUS, HOTTEST_CELSIUS

MOST_ROWS = 200
MOST_PHOTOS_AT_ONCE = 12
SYMPTOM_WORDS = (
    (SymptomPresent.UNKNOWN.value, "not noted"),
    (SymptomPresent.YES.value, "there"),
    (SymptomPresent.NO.value, "not there"),
)


def echo_address(
    revision_pk: int,
    case_pk: int | None = None,
    stage: Stage | None = None,
    corrects: int | None = None,
) -> str:
    """Return where a page asks what digits are taken as, beside what a case has logged.

    `stage` is that of all rows; a form that asks for it sends it along. `corrects` is the line
    that the typed one is to stand for, which is not held against it.
    """
    query = {"case": str(case_pk)} if case_pk is not None else {}
    if stage is not None:
        query["stage"] = stage.value
    if corrects is not None:
        query["corrects"] = str(corrects)
    return reverse("cases:echo", args=(revision_pk,), query=query or None)


def echo_attributes(address: str) -> dict[str, str]:
    """Return what makes an input ask what its digits are taken as, also when its row changes."""
    return {
        "hx-get": address,
        "hx-trigger": "input changed delay:400ms, change, change from:closest [data-row], focus",
        "hx-include": "closest [data-row], [name='stage']",
        "hx-target": "next .echo",
        "hx-swap": "innerHTML",
        "hx-sync": "this:queue last",
    }


class ReadingForm(RigForm):
    """One reading as it is typed. A row without digits is left out."""

    text = forms.CharField(
        label="Reading",
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs=AS_TYPED | {"data-row-value": ""}),
    )
    symptom_present = forms.ChoiceField(label="Symptom", choices=SYMPTOM_WORDS, required=False)
    statistic = forms.ChoiceField(label="Figure", choices=Statistic.choices, required=False)
    supply_volts = supply_field()
    celsius = QuantityField(
        unit="C",
        least=COLDEST_CELSIUS,
        most=HOTTEST_CELSIUS,
        required=False,
        label="Temperature",
        widget=forms.TextInput(attrs={"placeholder": "°C"}),
    )
    instrument = instrument_field()
    meter_ohms = meter_field()
    ammeter_in = forms.CharField(
        required=False,
        max_length=60,
        label="Ammeter in series with",
        help_text="Name of the part whose wire was opened for it.",
    )
    burden = QuantityField(
        unit="ohm",
        above=0,
        required=False,
        label="Ammeter's own ohms",
        widget=forms.TextInput(attrs={"placeholder": "0.04 Ohm"}),
    )
    by_drop = forms.BooleanField(
        required=False,
        label="Amps by the drop",
        help_text="Worked out from the millivolts across a fuse or shunt.",
    )
    clamp_floor = clamp_floor_field()
    lead_ohms = lead_ohms_field()
    note = forms.CharField(required=False, max_length=2000)

    field_order = (
        "place",
        "phase",
        "text",
        "unplugged",
        "lamp",
        "symptom_present",
        "statistic",
        "supply_volts",
        "celsius",
        "note",
        "photo",
        "photo_key",
        "power_removed",
        "lead_ohms",
        "ammeter_in",
        "burden",
        "by_drop",
        "instrument",
        "clamp_floor",
        "meter_ohms",
        "also_unplugged",
        "bridged",
    )
    #: Fields that stand in the row; the others are folded away behind it.
    IN_ROW = ("place", "phase", "text", "unplugged", "lamp", "symptom_present", "instrument")

    def __init__(
        self, *args: Any, echo_at: str = "", instruments: Sequence[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer_instruments(self, instruments, self.initial.get("instrument", ""))
        if echo_at:
            self.fields["text"].widget.attrs |= echo_attributes(echo_at)

    @property
    def row_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.IN_ROW if name in self.fields]

    @property
    def folded_fields(self) -> list[forms.BoundField]:
        return [
            self[name]
            for name in self.field_order
            if name in self.fields and name not in self.IN_ROW
        ]

    @property
    def fold_is_open(self) -> bool:
        """Whether something in the fold has been filled in or has to be mended."""
        quiet = ("", None, False, Statistic.STEADY.value)
        return any(field.value() not in quiet or field.errors for field in self.folded_fields)

    @property
    def is_left_out(self) -> bool:
        """Whether the row holds no reading: nothing typed beside place, phase and symptom."""
        typed = ("text", "lamp", "supply_volts", "celsius", "also_unplugged", "bridged", "note")
        return not any(self._typed(name) for name in typed)

    def _typed(self, name: str) -> str:
        return str(self.data.get(self.add_prefix(name), "")).strip()

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_bound and self.is_left_out:
            self._errors = forms.utils.ErrorDict()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not self.is_left_out:
            self._understand()
        return cleaned

    def _understand(self) -> None:
        if not self._typed("text"):
            self.add_error(
                "text", "Type what the meter showed, OL, or – where nothing was measured."
            )
            return
        try:
            understand_to_log(self.circuit, self.reading)
        except CaseError as error:
            self.add_error(_field_of(error), without_place(error))

    @property
    def reading(self) -> NewReading:
        """The reading, once the form is valid."""
        cleaned = self.cleaned_data
        return NewReading(
            place=cleaned["place"],
            phase=cleaned["phase"],
            text=cleaned["text"],
            rig=self.rig,
            statistic=Statistic(cleaned["statistic"] or Statistic.STEADY),
            symptom_present=SymptomPresent(cleaned["symptom_present"] or SymptomPresent.UNKNOWN),
            stage=self.stage,
            supply_volts=cleaned["supply_volts"],
            celsius=cleaned["celsius"],
            instrument=Instrument(
                name=cleaned.get("instrument", ""),
                input_ohms=cleaned["meter_ohms"],
                floor_amps=cleaned["clamp_floor"],
                lead_ohms=cleaned["lead_ohms"],
            ),
            note=cleaned["note"],
        )

    @property
    def stage(self) -> Stage:
        return Stage.BEFORE

    @property
    def picture(self) -> bytes | None:
        """What was photographed as the reading was taken, where the form asks for it."""
        return None


class LoggingForm(ReadingForm):
    """A reading as it is logged in a case: a photo of the display or the spot may come along.

    Without a line the photo waits in the browser under `photo_key`, which stands in its row.
    """

    photo = photo_field(
        required=False, help_text="The display, a trace, the spot. It stays in your shop."
    )
    photo_key = forms.CharField(required=False, max_length=36, widget=forms.HiddenInput)

    @property
    def is_left_out(self) -> bool:
        return super().is_left_out and not self._photo and not self._typed("photo_key")

    @property
    def picture(self) -> bytes | None:
        # One byte more than is taken tells the service that there is too much.
        return self._photo.read(LARGEST_BYTES + 1) if self._photo else None

    @property
    def _photo(self) -> "UploadedFile[Any] | None":
        return self.files.get(self.add_prefix("photo"))

    def clean_photo_key(self) -> str:
        key = str(self.cleaned_data["photo_key"])
        if key and not self._photo:
            self.add_error("photo", "The photo did not come along: take or choose it again.")
        return key


class AfterReadingForm(LoggingForm):
    """A reading taken after the repair."""

    @property
    def stage(self) -> Stage:
        return Stage.AFTER


class CorrectionForm(ReadingForm):
    """A newer line for a reading that was logged wrongly; the old one stays in sight."""

    reason = forms.CharField(
        max_length=500,
        label="Why it is corrected",
        help_text="Such as: typed V for mV; written in the wrong phase.",
    )


if TYPE_CHECKING:
    RowsOfReadings = forms.BaseFormSet["ReadingForm"]
else:
    RowsOfReadings = forms.BaseFormSet


class ReadingRows(RowsOfReadings):
    """Several readings, taken together or not at all."""

    @property
    def readings(self) -> list[NewReading]:
        """The readings that were typed, once the rows are valid."""
        return [row.reading for row in self.typed_rows]

    @property
    def pictures(self) -> list[bytes | None]:
        """What was photographed, in the order of the readings."""
        return [row.picture for row in self.typed_rows]

    def clean(self) -> None:
        if len(self.files) > MOST_PHOTOS_AT_ONCE:
            raise forms.ValidationError(
                f"Up to {MOST_PHOTOS_AT_ONCE} photos go with one sending: log some of the rows"
                " first, or add photos to their readings later."
            )

    @property
    def typed_rows(self) -> list[ReadingForm]:
        return [row for row in self.forms if not row.is_left_out and row not in self.deleted_forms]


def reading_rows(
    circuit: CaseCircuit,
    *,
    data: Mapping[str, Any] | None = None,
    files: "MultiValueDict[str, UploadedFile[Any]] | None" = None,
    initial: list[dict[str, Any]] | None = None,
    extra: int = 1,
    form: type[ReadingForm] = ReadingForm,
    echo_at: str = "",
    instruments: Sequence[str] = (),
) -> ReadingRows:
    """Return rows for the readings of a circuit, bound to what was sent if there is any.

    `echo_at` is the address at which the page asks what a typed reading is taken as,
    `instruments` are those that the person may choose from.
    """
    rows = forms.formset_factory(
        form,
        formset=ReadingRows,
        extra=extra,
        can_delete=True,
        max_num=MOST_ROWS,
        absolute_max=MOST_ROWS + 1,
    )
    kwargs = {"circuit": circuit, "echo_at": echo_at, "instruments": instruments}
    found = rows(data, files, initial=initial, prefix="readings", form_kwargs=kwargs)
    return cast(ReadingRows, found)


def rows_as_typed(
    data: Mapping[str, Any], prefix: str, names: tuple[str, ...]
) -> list[dict[str, Any]]:
    """Return what was typed into numbered rows, unchecked, to draw them anew."""
    count = min(number_in(str(data.get(f"{prefix}-TOTAL_FORMS", ""))), MOST_ROWS)
    rows = [
        {name: data.get(f"{prefix}-{number}-{name}", "") for name in names}
        for number in range(count)
        if not data.get(f"{prefix}-{number}-DELETE")
    ]
    return [row for row in rows if any(row.values())]


def rows_to_fill(
    circuit: CaseCircuit,
    typed: Mapping[str, Any],
    *,
    at_least: int,
    ready: Sequence[dict[str, Any]] = (),
    form: type[ReadingForm] = ReadingForm,
    echo_at: str = "",
    instruments: Sequence[str] = (),
) -> ReadingRows:
    """Return rows that hold what was typed so far, unchecked, and further ones to fill.

    `ready` are rows to begin with where nothing was typed yet. A further row stands at the place
    after the last one, in the same phase: that is the reading mostly taken next.
    """
    rows = rows_as_typed(typed, "readings", tuple(form.base_fields)) or list(ready)
    wanted = max(at_least, len(rows) + ("more_rows" in typed))
    places = list(circuit.entries)
    while len(rows) < wanted:
        last = rows[-1] if rows else {}
        following = places.index(last["place"]) + 1 if last.get("place") in places else 0
        place = places[min(following, len(places) - 1)] if places else ""
        rows.append({"place": place, "phase": last.get("phase", "")})
    return reading_rows(
        circuit, initial=rows, extra=0, form=form, echo_at=echo_at, instruments=instruments
    )


def _field_of(error: CaseError) -> str:
    if isinstance(error, UnreadableReading | OhmsOnLiveParts):
        return "text"
    if isinstance(error, PlaceNotInCircuit):
        return "place"
    if isinstance(error, PhaseNotInCircuit):
        return "phase"
    return "unplugged"


def without_place(error: CaseError) -> str:
    """Return what is wrong without the place in front, which stands beside it on the page."""
    return str(getattr(error, "problem", error))
