"""The form in which a case of an older log comes: with the name that the log has for it."""

from pydantic import Field

from cases.documents.base import Short
from cases.documents.cases import CaseDocument


class OlderCase(CaseDocument):
    """A case out of an older log."""

    case: Short = Field(default="", description="What the older log calls it, such as its number.")
