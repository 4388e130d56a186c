"""A program that speaks REST to Copperlog, as the tests use it."""

from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework.test import APIClient

from api.tokens import issue_token
from cases.models import Case
from tests.readings import readings


def program_of(user: User) -> APIClient:
    """Return a program that sends a token of this person with every request."""
    _, text = issue_token(by=user, name="test program", at=timezone.now())
    program = APIClient()
    program.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return program


VEHICLE = {"make": "Tolvane", "model": "Juniver", "year": 2016, "plate": "TEST 042"}
COMPLAINT = "Loses power on the motorway after half an hour."


def lines(table: str, **same: object) -> list[dict[str, object]]:
    """Return the readings of a table as they are sent."""
    return [
        reading.model_dump(mode="json", exclude_defaults=True)
        for reading in readings(table, **same)
    ]


def at(case: Case, deed: str = "") -> str:
    """Return the address of a case, or of something that is done with it."""
    return f"/api/cases/{case.pk}/{f'{deed}/' if deed else ''}"
