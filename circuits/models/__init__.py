"""Stored circuits: a circuit, its revisions, and the rows of each revision."""

from circuits.models.acceptance import REASON_LENGTH, Acceptance, AcceptanceQuerySet
from circuits.models.circuit import DIGEST_LENGTH, NAME_LENGTH, WORDS_LENGTH, Circuit, Revision
from circuits.models.confirmations import Confirmation, PinCheck
from circuits.models.draft import Draft
from circuits.models.nudge import FARTHEST, Nudge
from circuits.models.reference import KEY_LENGTH, LONGEST_READING, Reference
from circuits.models.rows import (
    CodeRow,
    CompoundRow,
    Connection,
    FaceRow,
    HazardRow,
    PartRow,
    PhaseRow,
    PlaceRow,
    Row,
)
from circuits.models.walk import SENTENCE_LENGTH, Walk, WalkStep

__all__ = [
    "DIGEST_LENGTH",
    "FARTHEST",
    "KEY_LENGTH",
    "LONGEST_READING",
    "NAME_LENGTH",
    "REASON_LENGTH",
    "SENTENCE_LENGTH",
    "WORDS_LENGTH",
    "Acceptance",
    "AcceptanceQuerySet",
    "Circuit",
    "CodeRow",
    "CompoundRow",
    "Confirmation",
    "Connection",
    "Draft",
    "FaceRow",
    "HazardRow",
    "Nudge",
    "PartRow",
    "PhaseRow",
    "PinCheck",
    "PlaceRow",
    "Reference",
    "Revision",
    "Row",
    "Walk",
    "WalkStep",
]
