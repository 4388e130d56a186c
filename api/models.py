"""Tokens with which a program signs in for a person."""

import hmac
from datetime import datetime

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.db import models
from django.db.models import F, Q

LONGEST_NAME = 60


class ApiTokenQuerySet(models.QuerySet["ApiToken"]):
    """Tokens, scoped by who asks."""

    def visible_to(self, user: User | AnonymousUser) -> "ApiTokenQuerySet":
        """Return this person's own tokens."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(user=user)


class ApiToken(models.Model):
    """A token that was handed out; what opens the door is kept only as its digest.

    `key_id` is the readable middle of the token: it names the row, and a person can tell by it
    which of their tokens a program holds. The secret behind it is 256 random bits, so one round
    of SHA-256 is as good as a slow hash.
    """

    user: "models.ForeignKey[User, User]" = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="api_tokens"
    )
    name = models.CharField(max_length=LONGEST_NAME)
    key_id = models.CharField(max_length=12, unique=True)
    digest = models.BinaryField(max_length=32, editable=False)
    #: Changes with the person's password, as the hash of a session does; empty in old tokens.
    password_mark = models.CharField(max_length=64, default="", editable=False)
    #: It opens what its person may see, and changes nothing.
    reads_only = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-pk")
        verbose_name = "API token"
        constraints = (
            models.CheckConstraint(condition=~Q(name=""), name="a_token_has_a_name"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("created_at")), name="a_token_expires_after_it_is_made"
            ),
        )

    def __str__(self) -> str:
        return f"{self.key_id}: {self.name}"

    def refusal_at(self, moment: datetime) -> str:
        """Return why the token opens nothing at this moment, or nothing where it does."""
        if self.revoked_at is not None:
            return f"This token was revoked on {self.revoked_at:%d %B %Y}."
        if moment >= self.expires_at:
            return f"This token expired on {self.expires_at:%d %B %Y}."
        if self.password_mark and not hmac.compare_digest(
            self.password_mark, self.user.get_session_auth_hash()
        ):
            return "This token is older than the password of its person."
        return ""
