"""Queries that a connection plans once, however often they are asked.

Django puts parameters into the text of a query, so that each is planned anew; what a search asks
takes longer to plan than to answer.
"""

from collections.abc import Sequence
from typing import Any

import psycopg
from django.db import connection


class _PlannedCursor(psycopg.Cursor[tuple[Any, ...]]):
    """A cursor that has its queries planned once, and its answers sent as they are kept."""

    def execute(self, query: Any, params: Any = None, **_: Any) -> "_PlannedCursor":
        return super().execute(query, params, prepare=True, binary=True)


def rows_of(query: str, parameters: Sequence[Any]) -> list[tuple[Any, ...]]:
    """Return the rows that a query gives."""
    connection.ensure_connection()
    django: Any = connection
    with (
        connection.wrap_database_errors,
        # As Django wraps its own cursors: so that they are counted, and shown while debugging.
        django._prepare_cursor(_PlannedCursor(connection.connection)) as cursor,
    ):
        cursor.execute(query, parameters)
        return list(cursor.fetchall())
