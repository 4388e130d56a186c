"""What a test sends to a page, and what it reads on it."""

import re
from html import unescape

from django.http import HttpResponse


def typed_rows(prefix: str, rows: list[dict[str, str]]) -> dict[str, str]:
    """Return numbered rows as a browser sends them."""
    sent = {f"{prefix}-TOTAL_FORMS": str(len(rows)), f"{prefix}-INITIAL_FORMS": "0"}
    for number, row in enumerate(rows):
        sent |= {f"{prefix}-{number}-{name}": value for name, value in row.items()}
    return sent


def typed_reading(place: str, text: str, phase: str = "prime", **others: str) -> dict[str, str]:
    """Return one reading as a browser sends it."""
    return {"place": place, "phase": phase, "text": text, **others}


def words_of(answer: HttpResponse) -> str:
    """Return the words of a page, without marks and with single spaces."""
    html = answer.content.decode()
    bare = re.sub(r"<(script|style|svg)\b.*?</\1>|<[^>]+>", " ", html, flags=re.S)
    return " ".join(unescape(bare).split())
