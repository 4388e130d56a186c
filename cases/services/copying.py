"""Write many rows at once by COPY, which takes a fraction of the time that inserting does."""

import json
from collections.abc import Iterable, Mapping
from typing import Any

from django.db import connection
from django.db.models import Field, Model


def copy_rows(model: type[Model], rows: Iterable[Mapping[str, Any]]) -> None:
    """Write rows of a model, each a value by column; what a row does not say is the default.

    `vars()` of an instance will do for a row. Nothing is checked but what the database checks.
    While rows are drawn the connection is busy: an iterator that asks the database waits for ever.
    """
    fields = model._meta.concrete_fields
    usual = {str(field.column): field.get_default() for field in fields}
    names = list(usual)
    as_json = [number for number, field in enumerate(fields) if _holds_json(field)]
    lists = [number for number, field in enumerate(fields) if field.get_default() == []]
    lists = [number for number in lists if number not in as_json]
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(f"COPY {model._meta.db_table} ({', '.join(names)}) FROM STDIN") as copy,
    ):
        for row in rows:
            values = [row.get(name, usual[name]) for name in names]
            for number in as_json:
                values[number] = json.dumps(values[number])
            for number in lists:
                values[number] = values[number] or "{}"
            copy.write_row(values)


def next_keys(model: type[Model], count: int) -> list[int]:
    """Return primary keys for so many rows, which nobody else will be given."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
            [model._meta.db_table, count],
        )
        return [key for (key,) in cursor.fetchall()]


def _holds_json(field: Field[Any, Any]) -> bool:
    return field.get_internal_type() == "JSONField"
