"""Circuits that somebody is still writing; each is seen by that person alone."""

import secrets

from django.conf import settings
from django.contrib.auth.models import AnonymousUser, User
from django.db import models

from circuits.models.circuit import WORDS_LENGTH, Circuit, Revision

KEY_BYTES = 9


def new_draft_key() -> str:
    """Return a name for a draft that nobody guesses."""
    return secrets.token_hex(KEY_BYTES)


class DraftQuerySet(models.QuerySet["Draft"]):
    """Drafts; nobody sees those of others."""

    def visible_to(self, user: User | AnonymousUser) -> "DraftQuerySet":
        return self.filter(person=user.pk) if user.is_authenticated else self.none()


class Draft(models.Model):
    """A circuit as far as it is written: its text, and the table if it was typed as one.

    `base` is the revision that a draft of a new revision began from.
    """

    key = models.SlugField(max_length=40, unique=True, default=new_draft_key)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="circuit_drafts"
    )
    circuit = models.ForeignKey(
        Circuit, on_delete=models.CASCADE, null=True, blank=True, related_name="drafts"
    )
    base = models.ForeignKey(
        Revision, on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    title = models.CharField(max_length=WORDS_LENGTH, blank=True)
    text = models.TextField(blank=True)
    table = models.JSONField(null=True, blank=True)
    note = models.TextField(blank=True)
    #: Counts the times it was kept, so that two windows do not overwrite each other.
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()

    objects = DraftQuerySet.as_manager()

    class Meta:
        ordering = ["-changed_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(circuit=None, base=None)
                | models.Q(circuit__isnull=False, base__isnull=False),
                name="circuits_draft_circuit_with_base",
            ),
        ]

    def __str__(self) -> str:
        return self.key
