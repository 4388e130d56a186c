"""How bodies of requests are read: up to a limit, and with words for what cannot be read."""

import json
from collections.abc import Mapping
from typing import IO, Any, NoReturn

from django.conf import settings
from rest_framework import status
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import BaseParser

from cases.services.exchange import LARGEST_CHARACTERS
from cases.services.older_logs.log_file import LARGEST_BYTES
from cases.services.photos import LARGEST_BYTES as LARGEST_PICTURE


class BodyTooLarge(APIException):
    """The body is longer than this program takes."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_code = "body_too_large"

    def __init__(self, limit: int) -> None:
        super().__init__(
            f"The body is longer than {limit / 1e6:.1f} MB. Send it in several smaller parts."
        )


class JsonParser(BaseParser):
    """Read a JSON object."""

    media_type = "application/json"
    #: What is taken; nothing told is what the settings allow.
    largest_bytes: int | None = None

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """Return the object that the JSON holds."""
        text = _text_of(stream, self.largest_bytes or settings.DATA_UPLOAD_MAX_MEMORY_SIZE)
        try:
            data = json.loads(text, parse_constant=_refuse_constant)
        except json.JSONDecodeError as error:
            raise ParseError(
                f"This is no JSON: {error.msg}, in line {error.lineno}, column {error.colno}."
            ) from error
        except (ValueError, RecursionError) as error:
            raise ParseError(f"This JSON cannot be read: {_reason(error)}.") from error
        if not isinstance(data, dict):
            raise ParseError("Send one JSON object: names and values in curly brackets.")
        return data


class CaseFileParser(JsonParser):
    """Read the document of a case, which may have photos in it."""

    largest_bytes = LARGEST_CHARACTERS


class PictureParser(JsonParser):
    """Read a JSON object with a picture of the largest kind in base64."""

    largest_bytes = 2 * LARGEST_PICTURE


class TextParser(BaseParser):
    """Read plain text."""

    media_type = "text/plain"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """Return the text."""
        return _text_of(stream, settings.DATA_UPLOAD_MAX_MEMORY_SIZE)


class CsvParser(TextParser):
    """Read a table with commas as text; whoever knows its columns takes it apart."""

    media_type = "text/csv"


class LogParser(BaseParser):
    """Take the file of an older log as it is; whoever knows its form takes it apart."""

    media_type = "text/csv"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """Return the bytes."""
        return _bytes_of(stream, LARGEST_BYTES)


class JsonLinesParser(LogParser):
    """Take JSON lines as they are."""

    media_type = "application/x-ndjson"


def _text_of(stream: IO[Any], limit: int) -> str:
    body = _bytes_of(stream, limit)
    try:
        return body.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ParseError(
            f"The body is no UTF-8 text: byte {error.start + 1} belongs to no character."
            " Send it as UTF-8."
        ) from error


def _bytes_of(stream: IO[Any], limit: int) -> bytes:
    body: bytes = stream.read(limit + 1)
    if len(body) > limit:
        raise BodyTooLarge(limit)
    return body


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON number")


def _reason(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "its lists and objects lie too deep in one another"
    return str(error)
