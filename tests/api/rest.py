"""A program that speaks REST to Copperlog, as the tests use it."""

from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework.test import APIClient

from api.tokens import issue_token


def program_of(user: User) -> APIClient:
    """Return a program that sends a token of this person with every request."""
    _, text = issue_token(by=user, name="test program", at=timezone.now())
    program = APIClient()
    program.credentials(HTTP_AUTHORIZATION=f"Bearer {text}")
    return program
