"""What the checks of a part have in common, in the vehicle and on the bench."""

from dataclasses import dataclass
from typing import Generic, TypeVar

from circuits.cautions import Caution

PRECEDENCE = (
    "The maker's procedure, local codes and licensed practice come first. The figures are typical "
    "values of a drawing, no specification."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a reading beside the expected ones speaks for; `side` is `lower`, `higher` or empty."""

    words: str
    side: str = ""

    def __str__(self) -> str:
        return f"{self.side}: {self.words}" if self.side else self.words


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One reading to take: where both leads go, how, when, what is normal, what another means.

    `red` is what a clamp goes round where `black` is empty. `when` says the phase, or on the bench
    what is fed and asked for. `cautions` belong to this step.
    """

    what: str
    red: str
    black: str
    meter: str
    when: str
    expected: str
    otherwise: tuple[Meaning, ...]
    cautions: tuple[str, ...] = ()


AnyCheck = TypeVar("AnyCheck", bound=Check)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSheet(Generic[AnyCheck]):
    """The checks of one part or module, and what to mind before the first lead goes on."""

    subject: str
    parts: tuple[str, ...]
    checks: tuple[AnyCheck, ...]
    cautions: tuple[Caution, ...] = ()
