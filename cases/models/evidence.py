"""What search compares: a case's evidence, normalised, written in the same commit as the case."""

from django.contrib.postgres.fields import ArrayField
from django.db import models

from cases.models.case import Case
from cases.models.choices import TermKind
from cases.models.shops import Shop

LONGEST_TERM = 400
LONGEST_ROOM = 60


class SearchTerm(models.Model):
    """A slot, code, word, fault or vehicle, so that millions of cases can name it by a number."""

    kind = models.CharField(max_length=10, choices=TermKind.choices)
    text = models.CharField(max_length=LONGEST_TERM)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("kind", "text"), name="a_term_once"),
            models.CheckConstraint(condition=models.Q(kind__in=TermKind.values), name="term_kind"),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.text}"


class CaseEvidence(models.Model):
    """What search compares of one case, in numbers of `SearchTerm`.

    Bytes are little-endian: terms as int32, sizes as int8 in sixteenths. `slots` and `sizes` run
    in parallel with `readings`, the logged lines they are from, and so do those of roles. A slot is
    place, key state, loads, quantity and rig in one circuit; its size is how far the reading lies
    from the healthy prediction, as a signed logarithm in units of tolerance. What was not measured
    has no entry: absent, never zero. `ruled_out` are faults that the case looked like and was not.

    `pending` says that the segment of the `room` does not hold this row as it now is; `stamp` is
    raised with every writing, so that a segment built meanwhile does not pass for newer than it is.
    """

    case = models.OneToOneField(
        Case, on_delete=models.CASCADE, primary_key=True, related_name="evidence"
    )
    room = models.CharField(max_length=LONGEST_ROOM, blank=True)
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+")
    is_shared = models.BooleanField(default=False)
    is_withdrawn = models.BooleanField(default=False)
    root = models.BigIntegerField()
    fault = models.IntegerField(default=0)
    circuit = models.IntegerField(default=0)
    vehicle = models.IntegerField(default=0)
    standing = models.PositiveSmallIntegerField(default=0)
    held_from_day = models.IntegerField(default=0)
    opened_day = models.IntegerField(default=0)
    slots = models.BinaryField(default=bytes)
    sizes = models.BinaryField(default=bytes)
    codes = models.BinaryField(default=bytes)
    words = models.BinaryField(default=bytes)
    roles = models.BinaryField(default=bytes)
    role_sizes = models.BinaryField(default=bytes)
    ruled_out = models.BinaryField(default=bytes)
    readings = ArrayField(models.BigIntegerField(), default=list)
    role_readings = ArrayField(models.BigIntegerField(), default=list)
    pending = models.BooleanField(default=True)
    stamp = models.BigIntegerField(default=1)
    written_at = models.DateTimeField()

    class Meta:
        verbose_name_plural = "case evidence"
        indexes = (
            models.Index(fields=("room",), name="evidence_room"),
            models.Index(
                fields=("room",), condition=models.Q(pending=True), name="evidence_pending"
            ),
        )

    def __str__(self) -> str:
        return f"evidence of {self.case_id}"


class SearchSegment(models.Model):
    """All cases of one room at one moment, in the order that search reads them.

    A room is a system: fuel supply, starting. A newer segment retires an older one, which is kept
    for a while for searches that have begun with it.
    """

    room = models.CharField(max_length=LONGEST_ROOM, blank=True)
    built_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("room",),
                condition=models.Q(retired_at__isnull=True),
                name="one_segment_of_a_room",
            ),
        )

    def __str__(self) -> str:
        return f"segment {self.pk} of '{self.room}'"


class SearchColumn(models.Model):
    """One column of a segment: an array in the form that NumPy names so, or texts."""

    # The constraint below is its index.
    segment = models.ForeignKey(
        SearchSegment, on_delete=models.CASCADE, related_name="columns", db_index=False
    )
    name = models.CharField(max_length=40)
    form = models.CharField(max_length=10)
    data = models.BinaryField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("segment", "name"), name="a_column_once"),)

    def __str__(self) -> str:
        return f"column '{self.name}' of segment {self.segment_id}"


class SearchPosting(models.Model):
    """The rows of a segment that have one term, as int32, and what they measured there.

    `counts` are int32 of shape (2, m): places in the table of faults and sizes, and the tenths of
    shared cases there; what is not in it is to be counted yet.
    """

    # The constraint below is its index.
    segment = models.ForeignKey(
        SearchSegment, on_delete=models.CASCADE, related_name="postings", db_index=False
    )
    kind = models.CharField(max_length=10, choices=TermKind.choices)
    term = models.IntegerField()
    rows = models.BinaryField()
    sizes = models.BinaryField(default=bytes)
    counts = models.BinaryField(default=bytes)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("segment", "term"), name="a_posting_once"),)

    def __str__(self) -> str:
        return f"term {self.term} in segment {self.segment_id}"


class FaultProfile(models.Model):
    """What the engine says that each fault of a revision shows at each slot, as shares of bins.

    `chances` is float32 of shape (faults, slots, bins), little-endian.
    """

    revision = models.OneToOneField(
        "circuits.Revision", on_delete=models.CASCADE, primary_key=True, related_name="+"
    )
    engine_version = models.CharField(max_length=20)
    faults = ArrayField(models.CharField(max_length=120), default=list)
    slots = ArrayField(models.CharField(max_length=LONGEST_TERM), default=list)
    chances = models.BinaryField()
    computed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"profile of revision {self.revision_id}"
