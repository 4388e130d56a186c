"""What can go wrong around the server that Copperlog starts itself.

::

    DatabaseTrouble      the text is meant for the person at the keyboard: what, where, how to mend
      CannotStart        the server did not come up
      CannotStop         the server did not go down
"""


class DatabaseTrouble(RuntimeError):
    """Anything that keeps the embedded PostgreSQL from doing as it was told."""


class CannotStart(DatabaseTrouble):
    """The server did not come up."""


class CannotStop(DatabaseTrouble):
    """The server did not go down."""
