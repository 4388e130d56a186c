"""What an inspection finds: each with where it is, why it matters and how to mend it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Gravity(StrEnum):
    """How grave a finding is, the gravest first."""

    DANGER = "danger"
    WRONG = "wrong"
    BLIND = "blind"
    GAP = "gap"


GRAVITY_WORDS: Mapping[Gravity, str] = MappingProxyType(
    {
        Gravity.DANGER: "can burn or hurt",
        Gravity.WRONG: "does not work as drawn",
        Gravity.BLIND: "tells nothing",
        Gravity.GAP: "not known",
    }
)


class FindingKind(StrEnum):
    """What can be wrong with a circuit on paper, in the order in which it is listed."""

    NET_TOO_HIGH = "net-too-high"
    NO_FUSE = "no-fuse"
    FUSE_TOO_LARGE = "fuse-too-large"
    BACK_FEED = "back-feed"
    NO_RETURN = "no-return"
    FLOATING = "floating"
    WEAK_WHEN_HOT = "weak-when-hot"
    WIRE_TOO_LONG = "wire-too-long"
    HEALTHY_CODE = "healthy-code"
    CODE_NEVER_SETS = "code-never-sets"
    RULE_NEVER_MOVES = "rule-never-moves"
    IDLE_PHASE = "idle-phase"
    MUTE_PLACE = "mute-place"
    NO_TOLERANCE = "no-tolerance"

    @property
    def gravity(self) -> Gravity:
        return _GRAVITY[self]


_GRAVITY: Mapping[FindingKind, Gravity] = MappingProxyType(
    {
        FindingKind.NET_TOO_HIGH: Gravity.DANGER,
        FindingKind.NO_FUSE: Gravity.DANGER,
        FindingKind.FUSE_TOO_LARGE: Gravity.DANGER,
        FindingKind.BACK_FEED: Gravity.DANGER,
        FindingKind.NO_RETURN: Gravity.WRONG,
        FindingKind.FLOATING: Gravity.WRONG,
        FindingKind.WEAK_WHEN_HOT: Gravity.WRONG,
        FindingKind.WIRE_TOO_LONG: Gravity.WRONG,
        FindingKind.HEALTHY_CODE: Gravity.WRONG,
        FindingKind.CODE_NEVER_SETS: Gravity.BLIND,
        FindingKind.RULE_NEVER_MOVES: Gravity.BLIND,
        FindingKind.IDLE_PHASE: Gravity.BLIND,
        FindingKind.MUTE_PLACE: Gravity.BLIND,
        FindingKind.NO_TOLERANCE: Gravity.GAP,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to look at: `subject` says where, `source` which published rule it breaks."""

    kind: FindingKind
    subject: str
    problem: str
    why: str
    mend: str
    source: str = ""

    @property
    def id(self) -> str:
        """Return what stays the same while the drawing changes, such as `no-fuse:W1`."""
        return f"{self.kind}:{self.subject}"

    @property
    def gravity(self) -> Gravity:
        return self.kind.gravity

    @property
    def gravity_words(self) -> str:
        return GRAVITY_WORDS[self.gravity]

    @property
    def words(self) -> str:
        return f"{self.problem} {self.why}"

    def __str__(self) -> str:
        said = f"{self.subject}: {self.problem} {self.why} {self.mend}"
        return f"{said} ({self.source})" if self.source else said


def listed(names: Sequence[str]) -> str:
    """Return names as they are said: F1, F2 and W3."""
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"
