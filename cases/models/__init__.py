"""Cases, shops, vehicles, readings, verdicts, exercises and search evidence as rows."""

from cases.models.case import HELD, Case, CaseChange, CaseQuerySet, CodeSeen, PartInVain
from cases.models.choices import (
    HEALTHY,
    CodeStatus,
    EarnedStanding,
    LogForm,
    LogState,
    Outcome,
    Role,
    Stage,
    Statistic,
    Symptom,
    SymptomPresent,
    TermKind,
    Wanted,
)
from cases.models.evidence import (
    CaseEvidence,
    FaultProfile,
    SearchColumn,
    SearchPosting,
    SearchSegment,
    SearchTerm,
)
from cases.models.exercises import AskedReading, Attempt, Exercise
from cases.models.instruments import OwnInstrument
from cases.models.older_logs import OlderLog, RefusedLine, TakenInCase
from cases.models.photos import (
    Photo,
    PhotoQuerySet,
    PhotoTag,
    ReadingPhoto,
    ReadingPhotoQuerySet,
)
from cases.models.readings import LoggedReading
from cases.models.rejudgements import Rejudgement, Settlement
from cases.models.searches import SavedSearch
from cases.models.shops import Membership, Shop
from cases.models.vehicles import Vehicle
from cases.models.verdicts import Verdict
from cases.models.words import ShopWord

__all__ = [
    "HEALTHY",
    "HELD",
    "AskedReading",
    "Attempt",
    "Case",
    "CaseChange",
    "CaseEvidence",
    "CaseQuerySet",
    "CodeSeen",
    "CodeStatus",
    "EarnedStanding",
    "Exercise",
    "FaultProfile",
    "LogForm",
    "LogState",
    "LoggedReading",
    "Membership",
    "OlderLog",
    "Outcome",
    "OwnInstrument",
    "PartInVain",
    "Photo",
    "PhotoQuerySet",
    "PhotoTag",
    "ReadingPhoto",
    "ReadingPhotoQuerySet",
    "RefusedLine",
    "Rejudgement",
    "Role",
    "SavedSearch",
    "SearchColumn",
    "SearchPosting",
    "SearchSegment",
    "SearchTerm",
    "Settlement",
    "Shop",
    "ShopWord",
    "Stage",
    "Statistic",
    "Symptom",
    "SymptomPresent",
    "TakenInCase",
    "TermKind",
    "Vehicle",
    "Verdict",
    "Wanted",
]
