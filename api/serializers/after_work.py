"""The work after a repair: what is to be undone, taught and registered."""

from pydantic import Field

from api.serializers.documents import Shown
from cases.documents.base import Document, Short
from cases.documents.cases import AfterKind, AfterLine


class AfterWorkShown(Shown):
    """All lines; a case is not verified before those of the kind `undo` are done."""

    lines: tuple[AfterLine, ...]


class AfterLineWanted(Document):
    """A line added by hand."""

    kind: AfterKind = Field(strict=False)
    words: Short


class TickWanted(Document):
    """A line ticked off, or its tick taken back."""

    key: Short
    done: bool
