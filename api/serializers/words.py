"""The languages and words of a shop over REST."""

from typing import Annotated

from pydantic import Field

from api.serializers.documents import Shown
from cases.documents.base import Document, Short, Text


class Languages(Document):
    """The languages that the people of a shop write in."""

    languages: Annotated[tuple[Short, ...], Field(max_length=10)] = Field(
        description="As the web names them, the usual one first: en, de, nl."
    )


class NewWord(Document):
    """What people say in a language, and the word that search keeps for it."""

    language: Short
    said: Short
    kept: Short = Field(description="One English word of the trade.")


class WordShown(Shown):
    """One word of a shop."""

    id: int = Field(validation_alias="pk")
    language: str
    said: str
    kept: str


class WordsShown(Shown):
    """The languages of a shop and its own words."""

    languages: tuple[str, ...]
    words: tuple[WordShown, ...]


class SpellingInput(Document):
    """A text as it was written."""

    text: Text


class SpellingShown(Shown):
    """Words that are near a known one and are none, with what may have been meant."""

    in_doubt: dict[str, tuple[str, ...]]
