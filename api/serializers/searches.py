"""Searches that a person kept, over REST."""

from datetime import datetime

from pydantic import Field

from api.serializers.documents import Shown
from cases.documents.base import Document, Short, Text


class SearchToKeep(Document):
    """A search as it stands in the address of the search page, and a name for it."""

    name: Short
    asked: Text = Field(description="What follows the question mark: words=dim&circuit=fuel-pump.")


class KeptSearch(Shown):
    """A search that you kept."""

    id: int = Field(validation_alias="pk")
    name: str
    asked: str
    kept_at: datetime


class KeptSearches(Shown):
    """The searches that you kept, by name."""

    searches: tuple[KeptSearch, ...]
