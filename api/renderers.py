"""Answers that are not JSON: a circuit in its text form, readings as a table."""

from collections.abc import Mapping
from typing import Any

from rest_framework.renderers import BaseRenderer


class TextRenderer(BaseRenderer):
    """Hand out text that is ready."""

    media_type = "text/plain"
    format = "text"
    charset = "utf-8"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> str:
        """Return the text as it is."""
        return str(data)


class CsvRenderer(TextRenderer):
    """Hand out a table with commas that is ready."""

    media_type = "text/csv"
    format = "csv"


class SvgRenderer(TextRenderer):
    """Hand out a drawing that is ready."""

    media_type = "image/svg+xml"
    format = "svg"
