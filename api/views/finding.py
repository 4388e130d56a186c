"""Find the thing that an address names, among those that this person may see."""

from django.contrib.auth.models import User
from rest_framework.exceptions import NotAuthenticated
from rest_framework.request import Request


def signed_in(request: Request) -> User:
    """Return the person who asks; the permissions have made sure that there is one."""
    if not isinstance(request.user, User):
        raise NotAuthenticated()
    return request.user
