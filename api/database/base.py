"""Django's way to PostgreSQL 15 or later, on a server of its own or on the embedded one.

With `EMBEDDED_FOLDER` in the database's settings, the embedded server is started at the first
connection and not before: `help`, `check` or a type checker that imports the settings leave
nothing running behind.
"""

from typing import Any

from django.db.backends.postgresql import base
from django.db.backends.postgresql.features import DatabaseFeatures as PostgresqlFeatures
from django.db.utils import OperationalError

from api.database.errors import DatabaseTrouble
from api.database.sharing import running_cluster

#: A query is prepared by itself once it was asked so often; without a number none ever is.
NEVER_BY_ITSELF = 2**31


class DatabaseFeatures(PostgresqlFeatures):
    """Django 5.2 itself would still accept PostgreSQL 14."""

    minimum_database_version = (15,)


class DatabaseWrapper(base.DatabaseWrapper):
    """A connection to PostgreSQL that may have to start its server first."""

    features_class = DatabaseFeatures

    def get_connection_params(self) -> dict[str, Any]:
        """Return psycopg's parameters, with the address of the embedded server if that is ours."""
        folder = self.settings_dict.get("EMBEDDED_FOLDER")
        if folder is None:
            return self._with_prepared(super().get_connection_params())
        try:
            address = running_cluster(folder).connection_parameters()
        except DatabaseTrouble as trouble:
            raise OperationalError(str(trouble)) from trouble
        # Kept where Django's own helpers look as well (dbshell, a second connection in tests).
        self.settings_dict.update({name.upper(): value for name, value in address.items()})
        return self._with_prepared(super().get_connection_params())

    @staticmethod
    def _with_prepared(parameters: dict[str, Any]) -> dict[str, Any]:
        """Let those queries be prepared that ask for it, and no others."""
        if parameters.get("prepare_threshold") is None:
            parameters["prepare_threshold"] = NEVER_BY_ITSELF
        return parameters
