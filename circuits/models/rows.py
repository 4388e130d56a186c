"""The rows of a revision: what its sheet holds, entry by entry and as typed."""

from django.db import models
from django.db.models import F, Q

from circuits.engine import KINDS, KeyState
from circuits.models.circuit import NAME_LENGTH, WORDS_LENGTH, Revision
from circuits.sheet import ConnectionKind, HazardKind


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
    """A part between two connections, or three; `settings` holds its values as typed, by phase."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="parts")
    name = models.CharField(max_length=NAME_LENGTH)
    kind = models.CharField(max_length=20)
    first = models.CharField(max_length=NAME_LENGTH)
    second = models.CharField(max_length=NAME_LENGTH)
    third = models.CharField(max_length=NAME_LENGTH, blank=True)
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


class FaceRow(Row):
    """A connector's face."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="faces")
    name = models.CharField(max_length=NAME_LENGTH)
    side = models.CharField(max_length=10)
    rows = models.PositiveSmallIntegerField()
    columns = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=WORDS_LENGTH, blank=True)
    cavities = models.JSONField()

    class Meta(Row.Meta):
        constraints = _once("name", "face")

    def __str__(self) -> str:
        return self.name


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


class CompoundRow(Row):
    """A fault of several values at once; `faults` holds each with its severity as typed."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="compounds")
    key = models.CharField(max_length=60)
    words = models.CharField(max_length=WORDS_LENGTH)
    faults = models.JSONField()

    class Meta(Row.Meta):
        constraints = _once("key", "compound")

    def __str__(self) -> str:
        return self.key


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
