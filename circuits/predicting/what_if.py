"""What the page of a circuit shows of a fault at a severity: every reading, and the curve."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django import forms
from django.utils.safestring import SafeString, mark_safe

from circuits.engine import Fault, find_suspect
from circuits.forms import FaultForm
from circuits.models import Revision
from circuits.on_vehicles.references import references_at
from circuits.predicting.curve_picture import Here, Panel, draw_curves
from circuits.predicting.curves import Curves, severity_curves
from circuits.predicting.severities import SeverityScale
from circuits.predicting.tables import PredictedTable, predicted_table
from circuits.services import network_of, places_of, sheet_of
from circuits.sheet import PlaceEntry, Sheet

CURVES_KEPT = 64
#: How many of the readings that tell a fault are named in the line that is read aloud.
MOST_NAMED = 3


class WhatIfForm(FaultForm):
    """A fault, how bad it is, and the place whose curve is drawn."""

    place = forms.ChoiceField(required=False, label="Curve at")

    def __init__(self, data: Mapping[str, Any] | None, *, revision: Revision) -> None:
        sheet = sheet_of(revision)
        super().__init__(data, network=network_of(revision))
        labels = {connection.node: connection.label for connection in sheet.connections}
        words = {part.name: part.kind for part in sheet.parts}
        fault, place = self.fields["fault"], self.fields["place"]
        assert isinstance(fault, forms.ChoiceField)
        assert isinstance(place, forms.ChoiceField)
        fault.choices = [
            (_group_words(group, words.get(group) or labels.get(group, "")), choices)
            if isinstance(choices, list)
            else (group, "healthy: no fault")
            for group, choices in _pairs(fault)
        ]
        fault.widget.attrs["size"] = 8
        place.choices = [
            ("", "where it shows most"),
            *(
                (each.key, f"{each.key} {each.label}")
                for each in sheet.places
                if not each.not_computed
            ),
        ]


def _pairs(field: forms.ChoiceField) -> list[tuple[Any, Any]]:
    return list(field.choices)  # type: ignore[arg-type]


def _group_words(target: str, words: str) -> str:
    return f"{target}, {words}" if words else target


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """The readings with a fault beside healthy, and what the page needs to slide along it."""

    revision: Revision
    form: WhatIfForm
    table: PredictedTable
    scale: SeverityScale | None

    @property
    def fault(self) -> Fault | None:
        return self.table.fault

    @property
    def stop(self) -> int:
        """The stop of the slider."""
        return self.scale.stop(self.fault.severity) if self.scale and self.fault else 0

    @property
    def is_graded(self) -> bool:
        """Whether the fault comes in degrees, so that there is a curve to draw."""
        return self.scale is not None and self.scale.graded

    @property
    def severity_words(self) -> str:
        return self.scale.words(self.fault.severity) if self.scale and self.fault else ""

    @property
    def telling(self) -> list[str]:
        """Say where the fault can be told from healthy, as `TP2 in running: 6.79 V`."""
        words = {phase.key: phase.words for phase in self.table.phases}
        return [
            f"{line.place.key} {words[cell.phase]} {cell.faulty.words} "
            f"instead of {cell.healthy.words}"
            for line in self.table.lines
            for cell in line.cells
            if cell.faulty is not None and cell.tells_apart
        ]

    @property
    def told(self) -> str:
        """Say in a sentence or two what the table shows; read aloud as the slider moves."""
        if self.fault is None:
            return ""
        telling = self.telling
        count = sum(len(line.cells) for line in self.table.lines)
        if not telling:
            return f"{self.table.fault_words}: none of {count} readings can be told from healthy."
        more = len(telling) - MOST_NAMED
        named = "; ".join(telling[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
        return f"{self.table.fault_words}: {len(telling)} of {count} readings differ. {named}."

    # -------------------------------------------------------------------------------- curve

    @property
    def place(self) -> PlaceEntry | None:
        """The place whose curve is drawn: the one asked for, or the one that tells most."""
        if self.fault is None:
            return None
        asked = self.form.cleaned_data.get("place", "") if self.form.is_bound else ""
        places = {line.place.key: line.place for line in self.table.lines if line.cells}
        return places.get(asked) or places.get(_telling_most(self._curves)) if places else None

    @property
    def _curves(self) -> Curves:
        assert self.fault is not None
        return curves_of(self.revision.pk, self.fault.suspect.id)

    @property
    def picture(self) -> SafeString:
        """The curve as SVG; empty without a fault or a place."""
        place = self.place
        if place is None or not self.is_graded:
            return SafeString()
        assert self.fault is not None
        line = next(line for line in self.table.lines if line.place.key == place.key)
        panel = Panel(
            place=place,
            phases=self.table.phases,
            curves=self._curves.at(place.key),
            here=Here.of(line, self.fault),
        )
        # Made by an XML writer, which escapes what labels bring along.
        return mark_safe(draw_curves(self._curves.scale, [panel], in_page=True))


def what_if(revision: Revision, asked: Mapping[str, Any]) -> WhatIf:
    """Return what a page shows for a fault, a severity and a place that were asked for."""
    form = WhatIfForm(asked if "fault" in asked else None, revision=revision)
    sheet: Sheet = sheet_of(revision)
    fault = form.chosen
    return WhatIf(
        revision=revision,
        form=form,
        table=predicted_table(
            sheet,
            network_of(revision),
            fault=fault,
            references=references_at(revision),
        ),
        scale=SeverityScale(fault.suspect) if fault is not None else None,
    )


# A curve takes some tenths of a second and stays the same while the slider moves along it.
@lru_cache(maxsize=CURVES_KEPT)
def curves_of(revision_pk: int, suspect_id: str) -> Curves:
    """Return the curves of all places of a stored revision for one of its suspects."""
    revision = Revision.objects.select_related("circuit").get(pk=revision_pk)
    network = network_of(revision)
    return severity_curves(network, places_of(revision), find_suspect(network, suspect_id))


def _telling_most(curves: Curves) -> str:
    """Return the place whose readings move most against how sure they are when healthy."""

    def weight(place: str) -> float:
        return max(
            curve.largest_change / (curve.healthy.high - curve.healthy.low + 1e-9)
            for curve in curves.at(place)
        )

    places = dict.fromkeys(curve.place for curve in curves.curves)
    return max(places, key=weight, default="")
