"""Stored circuits: a circuit, its revisions, and the rows of each revision.

A revision holds what a sheet holds, row by row and as typed. Once it is sealed (its digest is
set), the database refuses to change or delete it or its rows; a correction is a new revision.
"""

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Length

from circuits.engine import KINDS, KeyState
from circuits.sheet import ConnectionKind, HazardKind

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

DIGEST_LENGTH = 64
WORDS_LENGTH = 300
NAME_LENGTH = 40
models.CharField.register_lookup(Length)


class CircuitQuerySet(models.QuerySet["Circuit"]):
    """Circuits; everyone may see all of them."""

    def for_system(self, system: str) -> "CircuitQuerySet":
        return self.filter(system__iexact=system)

    def for_vehicle(self, make: str, model: str) -> "CircuitQuerySet":
        return self.filter(make__iexact=make, model__iexact=model)

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
    above = models.JSONField(default=list, blank=True)
    remark = models.CharField(max_length=WORDS_LENGTH, blank=True)
    notes = models.TextField(blank=True)
    closing = models.JSONField(default=list, blank=True)

    if TYPE_CHECKING:
        connections: "RelatedManager[Connection]"
        phases: "RelatedManager[PhaseRow]"
        parts: "RelatedManager[PartRow]"
        places: "RelatedManager[PlaceRow]"
        codes: "RelatedManager[CodeRow]"
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


class Row(models.Model):
    """What all rows of a revision have: their order, and the remarks round them."""

    order = models.PositiveSmallIntegerField()
    above = models.JSONField(default=list, blank=True)
    remark = models.CharField(max_length=WORDS_LENGTH, blank=True)

    class Meta:
        abstract = True
        ordering = ["revision", "order"]


def _once(field: str, table: str) -> list[models.BaseConstraint]:
    return [
        models.UniqueConstraint(fields=["revision", "order"], name=f"circuits_{table}_order_once"),
        models.UniqueConstraint(fields=["revision", field], name=f"circuits_{table}_{field}_once"),
    ]


def _known(field: str, table: str, known: list[str]) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(**{f"{field}__in": known}), name=f"circuits_{table}_{field}_known"
    )


class Connection(Row):
    """A point of the drawing at which ends of parts meet."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="connections")
    node = models.CharField(max_length=NAME_LENGTH)
    kind = models.CharField(max_length=20)
    label = models.CharField(max_length=WORDS_LENGTH, blank=True)

    class Meta(Row.Meta):
        constraints = [
            *_once("node", "connection"),
            _known("kind", "connection", [kind.value for kind in ConnectionKind]),
        ]

    def __str__(self) -> str:
        return self.node


class PhaseRow(Row):
    """A named state of the circuit."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="phases")
    key = models.CharField(max_length=60)
    key_state = models.CharField(max_length=10)
    words = models.CharField(max_length=WORDS_LENGTH)
    temperature = models.CharField(max_length=WORDS_LENGTH, blank=True)
    since = models.CharField(max_length=WORDS_LENGTH, blank=True)

    class Meta(Row.Meta):
        constraints = [
            *_once("key", "phase"),
            _known("key_state", "phase", [state.value for state in KeyState]),
        ]

    def __str__(self) -> str:
        return self.key


class PartRow(Row):
    """A part between two connections; `settings` holds its values as typed, by phase."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="parts")
    name = models.CharField(max_length=NAME_LENGTH)
    kind = models.CharField(max_length=20)
    first = models.CharField(max_length=NAME_LENGTH)
    second = models.CharField(max_length=NAME_LENGTH)
    settings = models.JSONField(default=list, blank=True)
    source = models.CharField(max_length=WORDS_LENGTH, blank=True)

    class Meta(Row.Meta):
        constraints = [
            *_once("name", "part"),
            _known("kind", "part", list(KINDS)),
            models.CheckConstraint(
                condition=~Q(first=F("second")), name="circuits_part_has_two_ends"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PlaceRow(Row):
    """Where a reading is taken."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="places")
    key = models.CharField(max_length=NAME_LENGTH)
    label = models.CharField(max_length=WORDS_LENGTH)
    unit = models.CharField(max_length=10)
    red = models.CharField(max_length=NAME_LENGTH, blank=True)
    black = models.CharField(max_length=NAME_LENGTH, blank=True)
    through = models.CharField(max_length=NAME_LENGTH, blank=True)
    against = models.BooleanField(default=False)
    side = models.CharField(max_length=WORDS_LENGTH, blank=True)
    moves = models.JSONField(default=list, blank=True)
    not_computed = models.CharField(max_length=WORDS_LENGTH, blank=True)

    class Meta(Row.Meta):
        constraints = [
            *_once("key", "place"),
            models.CheckConstraint(
                condition=Q(red="", black="") | ~Q(red="") & ~Q(black="") & Q(through=""),
                name="circuits_place_leads_or_clamp",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class CodeRow(Row):
    """A fault code and when it sets."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="codes")
    code = models.CharField(max_length=NAME_LENGTH)
    words = models.CharField(max_length=WORDS_LENGTH)
    conditions = models.JSONField(default=list, blank=True)
    not_testable = models.CharField(max_length=WORDS_LENGTH, blank=True)
    source = models.CharField(max_length=WORDS_LENGTH, blank=True)

    class Meta(Row.Meta):
        constraints = [
            *_once("code", "code"),
            models.CheckConstraint(
                condition=Q(conditions=[]) & ~Q(not_testable="")
                | ~Q(conditions=[]) & Q(not_testable=""),
                name="circuits_code_testable_or_why_not",
            ),
        ]

    def __str__(self) -> str:
        return self.code


class HazardRow(Row):
    """A danger of the circuit."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="hazards")
    kind = models.CharField(max_length=20)
    note = models.CharField(max_length=WORDS_LENGTH)

    class Meta(Row.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "order"], name="circuits_hazard_order_once"
            ),
            _known("kind", "hazard", [kind.value for kind in HazardKind]),
        ]

    def __str__(self) -> str:
        return self.kind
