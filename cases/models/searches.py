"""Searches that a person kept under a name; each is an address."""

from django.conf import settings
from django.db import models


class SavedSearch(models.Model):
    """A search as it stands in the address, without the question mark."""

    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="searches"
    )
    name = models.CharField(max_length=80)
    asked = models.TextField()
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(fields=("owner", "name"), name="one_search_of_a_name"),
        )

    def __str__(self) -> str:
        return self.name
