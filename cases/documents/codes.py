"""The form in which codes travel as evidence: what each says of the suspects, what all share."""

from typing import Literal

from pydantic import Field

from cases.documents.base import Document

#: Whether a suspect sets a code at every severity that the readings leave it, at some, at none.
SetWord = Literal["sets it", "may set it", "does not set it"]


class CodeEvidence(Document):
    """What one code says, of the suspects that the readings leave; those are named by id.

    A code is set, or its monitor ran and passed: then a suspect that sets it speaks against
    itself. `silent` says why the code is no evidence; then the lists are empty. The severities are
    those that fit the readings; the suspects in `excluded_that_set` fit them at none.
    """

    code: str
    module: str = ""
    status: str = ""
    is_set: bool
    words: str = Field(default="", description="As on the circuit's sheet.")
    conditions: tuple[str, ...] = Field(default=(), description="When it sets, any of these.")
    silent: str = ""
    healthy: SetWord | Literal[""] = ""
    claim: SetWord | Literal[""] = ""
    sets: tuple[str, ...] = ()
    may_set: tuple[str, ...] = ()
    does_not_set: tuple[str, ...] = ()
    excluded_that_set: tuple[str, ...] = ()
    failure_type: str = ""
    failure_words: str = ""
    of_its_kind: tuple[str, ...] = Field(
        default=(), description="Suspects that explain it and are of the kind that its byte means."
    )

    @property
    def explains(self) -> tuple[str, ...]:
        """The suspects that explain the code as it was told: set, or not set."""
        others = self.sets if self.is_set else self.does_not_set
        return (*others, *self.may_set)

    @property
    def is_unexplained(self) -> bool:
        """Whether it is set and no suspect that the readings leave sets it."""
        return self.is_set and not self.silent and not self.sets and not self.may_set


class SharedByCodes(Document):
    """Something that all the set codes hang on: a supply, fuse, splice, ground, bus or joint.

    `suspects` are the faults there that set all of these codes. `passed` are codes that hang on
    it as well although their monitors ran and passed.
    """

    kind: str
    name: str
    words: str = ""
    suspects: tuple[str, ...] = ()
    passed: tuple[str, ...] = ()


class CodeSet(Document):
    """Codes that were set together: what they share, and the single faults that set them all.

    `suspects` are those that fit the readings. `modules` are those that gave the codes.
    """

    codes: tuple[str, ...]
    modules: tuple[str, ...] = ()
    shared: tuple[SharedByCodes, ...] = ()
    suspects: tuple[str, ...] = ()
