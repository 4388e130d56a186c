"""Between a sheet and its rows, without loss either way."""

import hashlib
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from django.db.models import Model, Prefetch, QuerySet

from circuits.models import (
    CodeRow,
    CompoundRow,
    Connection,
    FaceRow,
    HazardRow,
    PartRow,
    PhaseRow,
    PlaceRow,
    Revision,
    Row,
)
from circuits.sheet import SCHEMA, Sheet, to_data

#: Section of the sheet and related name of the rows -> their model.
_ROWS: Mapping[str, type[Row]] = MappingProxyType(
    {
        "connections": Connection,
        "phases": PhaseRow,
        "parts": PartRow,
        "places": PlaceRow,
        "faces": FaceRow,
        "codes": CodeRow,
        "compounds": CompoundRow,
        "hazards": HazardRow,
    }
)
_VEHICLE_COLUMNS = (
    "title",
    "system",
    "make",
    "model",
    "engine",
    "supply_volts",
    "zero",
    "body",
    "plus",
    "drawing",
    "drawn_by_us",
    "outside",
    "shared",
    "goes_on",
    "above",
    "remark",
)


def digest_of(sheet: Sheet) -> str:
    """Return the SHA-256 of a sheet; two sheets with one digest say the same in every word.

    What a sheet leaves at its default is left out, so that a form of the sheet that can say more
    gives older sheets the digest they had.
    """
    said = sheet.model_dump_json(by_alias=True, exclude_defaults=True)
    return hashlib.sha256(said.encode()).hexdigest()


def vehicle_values(sheet: Sheet) -> dict[str, Any]:
    """Return the columns of a revision that its sheet gives."""
    data = to_data(sheet)
    values = {name: data["vehicle"][name] for name in _VEHICLE_COLUMNS}
    return {**values, "notes": data["notes"], "closing": data["closing"]}


def write_rows(revision: Revision, sheet: Sheet) -> None:
    """Write a sheet's entries as rows of a revision that is not sealed yet."""
    data = to_data(sheet)
    for section, row_model in _ROWS.items():
        row_model._default_manager.bulk_create(
            row_model(**{"revision": revision, "order": order, **entry})
            for order, entry in enumerate(data[section])
        )


def with_rows(revisions: QuerySet[Revision]) -> QuerySet[Revision]:
    """Fetch revisions with all their rows, in a fixed number of queries."""
    return revisions.select_related("circuit").prefetch_related(
        *(
            Prefetch(section, queryset=row_model._default_manager.order_by("order"))
            for section, row_model in _ROWS.items()
        )
    )


def sheet_from_rows(revision: Revision) -> Sheet:
    """Return the sheet of a revision fetched `with_rows`."""
    vehicle = {name: getattr(revision, name) for name in _VEHICLE_COLUMNS}
    data = {
        "schema": SCHEMA,
        "vehicle": {**vehicle, "key": revision.circuit.key},
        "notes": revision.notes,
        "closing": revision.closing,
        **{section: _entries(getattr(revision, section).all()) for section in _ROWS},
    }
    # The rows were checked when they were written, so only their shape is checked here.
    return Sheet.model_validate(_with_tuples(data))


def _entries(rows: Iterable[Model]) -> list[dict[str, Any]]:
    return [
        {
            field.attname: getattr(row, field.attname)
            for field in row._meta.concrete_fields
            if field.attname not in ("id", "revision_id", "order")
        }
        for row in rows
    ]


def _with_tuples(data: Any) -> Any:
    """Return JSON with its lists as tuples, which is how a frozen sheet holds them."""
    if isinstance(data, list):
        return tuple(map(_with_tuples, data))
    if isinstance(data, dict):
        return {key: _with_tuples(value) for key, value in data.items()}
    return data
