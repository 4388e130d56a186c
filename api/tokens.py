"""Issue, revoke and accept tokens of the form `copperlog_<key id>_<secret>`.

The fixed first word lets a scanner that looks for leaked secrets know one of ours.
"""

import hashlib
import hmac
import secrets
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.contrib.auth.models import User
from django.db.models import Q
from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import SAFE_METHODS, BasePermission
from rest_framework.request import Request

from api.models import ApiToken

if TYPE_CHECKING:
    from rest_framework.views import APIView  # which imports this module, by the settings

PREFIX = "copperlog"
SCHEME = "Bearer"
KEY_ID_BYTES = 6
SECRET_BYTES = 32
DEFAULT_DAYS = 90
LONGEST_DAYS = 3660
#: The last use is written at most this often, so that reading costs no write.
USE_NOTED_EVERY = timedelta(minutes=1)


def issue_token(
    *, by: User, name: str, at: datetime, days: int = DEFAULT_DAYS, reads_only: bool = False
) -> tuple[ApiToken, str]:
    """Make a token; the text beside the row is shown this once and kept nowhere."""
    key_id = secrets.token_hex(KEY_ID_BYTES)
    text = f"{PREFIX}_{key_id}_{secrets.token_urlsafe(SECRET_BYTES)}"
    token = ApiToken.objects.create(
        user=by,
        name=name,
        key_id=key_id,
        digest=_digest(text),
        password_mark=by.get_session_auth_hash(),
        reads_only=reads_only,
        created_at=at,
        expires_at=at + timedelta(days=days),
    )
    return token, text


def revoke_token(*, token: ApiToken, at: datetime) -> None:
    """Make a token worthless from now on; revoking it again changes nothing."""
    ApiToken.objects.filter(pk=token.pk, revoked_at__isnull=True).update(revoked_at=at)


def token_from(text: str, *, at: datetime) -> ApiToken:
    """Return the token that `text` is, and note that it was used.

    Raises
    ------
    AuthenticationFailed
        It is no token of ours, or it is revoked, expired or of a person who has left.
    """
    unknown = AuthenticationFailed(
        "This token is not known here. Check that all of it was copied, or sign in for a new one."
    )
    prefix, _, rest = text.partition("_")
    key_id, _, secret = rest.partition("_")
    if prefix != PREFIX or not secret:
        raise unknown
    token = ApiToken.objects.select_related("user").filter(key_id=key_id).first()
    if token is None or not hmac.compare_digest(bytes(token.digest), _digest(text)):
        raise unknown
    refusal = token.refusal_at(at)
    if refusal:
        raise AuthenticationFailed(f"{refusal} Sign in for a new one.")
    if not token.user.is_active:
        raise AuthenticationFailed("This token belongs to a person who is no longer active here.")
    _note_use(token, at=at)
    return token


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode()).digest()


def _note_use(token: ApiToken, *, at: datetime) -> None:
    stale = at - USE_NOTED_EVERY
    if token.last_used_at is None or token.last_used_at < stale:
        # Asked again in the update, so that of many requests at once one writes.
        unnoted = Q(last_used_at__isnull=True) | Q(last_used_at__lt=stale)
        ApiToken.objects.filter(unnoted, pk=token.pk).update(last_used_at=at)


class TokenAuthentication(BaseAuthentication):
    """Accept `Authorization: Bearer copperlog_...`."""

    def authenticate(self, request: Request) -> tuple[User, ApiToken] | None:
        """Return the person and the token, or None where no token was sent."""
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != SCHEME.lower().encode():
            return None
        if len(words) != 2:
            raise AuthenticationFailed(
                f"Write the header as 'Authorization: {SCHEME} <token>', with one space."
            )
        try:
            text = words[1].decode("ascii")
        except UnicodeDecodeError:
            raise AuthenticationFailed(
                "The token holds characters that no token has; copy it again."
            ) from None
        token = token_from(text, at=timezone.now())
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        """Return what a 401 asks for."""
        return f'{SCHEME} realm="Copperlog"'


class TokenMayWrite(BasePermission):
    """Keep a token that may only read from everything but asking.

    A view that takes a question by POST and keeps nothing of it says so: `post_reads = True`.
    """

    message = "This token may only read. Sign in for one that may write, or do it on the page."

    def has_permission(self, request: Request, view: "APIView") -> bool:
        """Return whether the token, if there is one, may do this."""
        if not isinstance(request.auth, ApiToken) or not request.auth.reads_only:
            return True
        asks = request.method == "POST" and getattr(view, "post_reads", False)
        return asks or request.method in SAFE_METHODS
