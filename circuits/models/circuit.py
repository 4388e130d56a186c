"""A circuit and its revisions.

Once a revision is sealed (its digest is set), the database refuses to change or delete it or its
rows; a correction is a new revision.
"""

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

    from circuits.models.nudge import Nudge
    from circuits.models.rows import (
        CodeRow,
        CompoundRow,
        Connection,
        FaceRow,
        HazardRow,
        PartRow,
        PhaseRow,
        PlaceRow,
    )
    from circuits.models.walk import Walk

DIGEST_LENGTH = 64
WORDS_LENGTH = 300
NAME_LENGTH = 40
models.CharField.register_lookup(Length)


class CircuitQuerySet(models.QuerySet["Circuit"]):
    """Circuits; everyone may see all of them."""

    def with_latest(self) -> "CircuitQuerySet":
        """Fetch `latest_number` and `latest_at`, the newest revision's number and moment."""
        newest = Revision.objects.filter(circuit=models.OuterRef("pk")).order_by("-number")
        return self.annotate(
            latest_number=models.Subquery(newest.values("number")[:1]),
            latest_at=models.Subquery(newest.values("created_at")[:1]),
        )


class Circuit(models.Model):
    """A circuit of a kind of vehicle; it has no owner.

    Title, system, make and model are those of the newest revision, for lists.
    """

    key = models.SlugField(max_length=60, unique=True)
    title = models.CharField(max_length=WORDS_LENGTH)
    system = models.CharField(max_length=WORDS_LENGTH)
    make = models.CharField(max_length=WORDS_LENGTH, blank=True)
    model = models.CharField(max_length=WORDS_LENGTH, blank=True)
    created_at = models.DateTimeField()

    if TYPE_CHECKING:
        revisions: "RelatedManager[Revision]"
        nudges: "RelatedManager[Nudge]"
        walks: "RelatedManager[Walk]"

    objects = CircuitQuerySet.as_manager()

    class Meta:
        ordering = ["system", "title", "key"]

    def __str__(self) -> str:
        return self.key


class Revision(models.Model):
    """One published state of a circuit; never changed afterwards."""

    circuit = models.ForeignKey(Circuit, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    note = models.TextField(help_text="What changed, and why.")
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    #: SHA-256 of the sheet; empty only while the rows are being written.
    digest = models.CharField(max_length=DIGEST_LENGTH, blank=True)

    title = models.CharField(max_length=WORDS_LENGTH)
    system = models.CharField(max_length=WORDS_LENGTH)
    make = models.CharField(max_length=WORDS_LENGTH, blank=True)
    model = models.CharField(max_length=WORDS_LENGTH, blank=True)
    engine = models.CharField(max_length=WORDS_LENGTH, blank=True)
    supply_volts = models.PositiveSmallIntegerField()
    zero = models.CharField(max_length=NAME_LENGTH)
    body = models.CharField(max_length=NAME_LENGTH, blank=True)
    plus = models.CharField(max_length=NAME_LENGTH, blank=True)
    drawing = models.CharField(max_length=WORDS_LENGTH, blank=True)
    drawn_by_us = models.BooleanField()
    outside = models.JSONField(default=list, blank=True)
    shared = models.JSONField(default=list, blank=True)
    goes_on = models.JSONField(default=list, blank=True)
    above = models.JSONField(default=list, blank=True)
    remark = models.CharField(max_length=WORDS_LENGTH, blank=True)
    notes = models.TextField(blank=True)
    closing = models.JSONField(default=list, blank=True)

    if TYPE_CHECKING:
        connections: "RelatedManager[Connection]"
        phases: "RelatedManager[PhaseRow]"
        parts: "RelatedManager[PartRow]"
        places: "RelatedManager[PlaceRow]"
        faces: "RelatedManager[FaceRow]"
        codes: "RelatedManager[CodeRow]"
        compounds: "RelatedManager[CompoundRow]"
        hazards: "RelatedManager[HazardRow]"

    class Meta:
        ordering = ["circuit", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["circuit", "number"], name="circuits_revision_number_once"
            ),
            models.CheckConstraint(
                condition=Q(number__gte=1), name="circuits_revision_number_from_one"
            ),
            models.CheckConstraint(
                condition=Q(supply_volts__in=(12, 24)), name="circuits_revision_supply_12_or_24"
            ),
            models.CheckConstraint(
                condition=Q(digest="") | Q(digest__length=DIGEST_LENGTH),
                name="circuits_revision_digest",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.circuit.key} revision {self.number}"
