"""What an address or a form names: a circuit by its key, a thing by its number.

Both come from outside and may hold anything; what names nothing is nothing, never an error.
"""

import re

from circuits.models import Circuit, Revision
from circuits.services import latest_revision

LONGEST_NUMBER = 9
_KEY = re.compile(r"[-\w]{1,60}", re.ASCII)


def revision_named(circuit_key: str) -> Revision | None:
    """Return the newest revision of the circuit with this key, if there is one."""
    if not _KEY.fullmatch(circuit_key):
        return None
    circuit = Circuit.objects.filter(key=circuit_key).first()
    return latest_revision(circuit) if circuit is not None else None


def number_in(text: str) -> int:
    """Return a number, or 0, which nothing has, where the text is none or beyond all reason."""
    return int(text) if text.isdecimal() and len(text) <= LONGEST_NUMBER else 0
