"""What the commands that answer share: the circuit asked for, exit statuses, and columns."""

import sys
import traceback
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from django.core.management.base import OutputWrapper

from circuits.errors import CircuitError
from circuits.models import Revision
from circuits.services import circuit_by_key, latest_revision, sheet_of
from circuits.sheet import Sheet, SheetErrors, read_any

DONE = 0
BAD_INPUT = 2
OUR_BUG = 70


class NoSuchFile(ValueError):
    """The command was given a path at which there is no file."""


#: What reading a circuit that a command was given can come to.
CIRCUIT_REFUSALS = (SheetErrors, CircuitError, NoSuchFile, OSError)


@contextmanager
def answering(complaints: OutputWrapper, refusals: tuple[type[Exception], ...]) -> Iterator[None]:
    """Run what answers; exit with the status of bad input, or of a mistake of ours, where it fails.

    Parameters
    ----------
    complaints
        Where the reason is written.
    refusals
        The errors by which bad input is refused, in words for whoever typed it.
    """
    try:
        yield
    except refusals as error:
        complaints.write(str(error))
        sys.exit(BAD_INPUT)
    except Exception:
        complaints.write(traceback.format_exc())
        complaints.write("This is a mistake of ours; please report it with the lines above.")
        sys.exit(OUR_BUG)


def given_circuit(circuit: str) -> tuple[Sheet, Revision | None]:
    """Return the sheet of a file or of a stored circuit's key, and the revision if it is stored.

    Raises
    ------
    NoSuchFile
        It looks like a path, and there is no such file.
    SheetErrors
        The file is no circuit.
    CircuitError
        There is no stored circuit of that key.
    """
    path = Path(circuit)
    if path.is_file():
        return read_any(path.read_bytes()), None
    if path.suffix or len(path.parts) > 1:
        raise NoSuchFile(f"There is no file '{circuit}'.")
    stored = latest_revision(circuit_by_key(circuit))
    return sheet_of(stored), stored


def in_columns(rows: Iterable[Sequence[str]], widths: Sequence[int]) -> Iterator[str]:
    """Return rows as lines, indented, with their cells under each other."""
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield f"  {'  '.join(cells)}".rstrip()
