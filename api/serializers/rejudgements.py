"""Rejudgements: what a newer revision of its circuit, or a newer engine, says of a case."""

from datetime import datetime
from typing import Literal

from pydantic import AliasPath, Field

from api.serializers.documents import Shown
from cases.documents.base import Document
from cases.documents.verdicts import VerdictDocument
from cases.services.rejudging_queue import Rejudging


class RejudgementRow(Shown):
    """A case that was judged once more, as a line of the list."""

    id: int = Field(validation_alias="pk")
    case: int = Field(validation_alias="case_id")
    key: str = Field(validation_alias=AliasPath("case", "key"), description="As people call it.")
    circuit: str = Field(validation_alias=AliasPath("revision", "circuit", "key"))
    revision: int = Field(
        validation_alias=AliasPath("revision", "number"), description="It was judged with this one."
    )
    earlier_revision: int = Field(
        validation_alias=AliasPath("earlier", "revision", "number"),
        description="The verdict it is compared with was given with this one.",
    )
    why: str = Field(
        validation_alias=AliasPath("revision", "note"), description="Note of the newer revision."
    )
    earlier_verdict: int = Field(validation_alias="earlier_id")
    engine_version: str
    by_engine: bool = Field(
        validation_alias="is_by_engine",
        description="The engine is what changed; its verdict counts already.",
    )
    changes: tuple[str, ...] = Field(description="What is different; empty where nothing is.")
    trouble: str = Field(description="Why the case has no place in the newer revision.")
    outcome: str = Field(description="Of the claim: fits, does not fit, cannot say.")
    standing: str = Field(description="How the case would stand.")
    computed_at: datetime
    settlement: str = Field(description="taken over, left, replaced, or empty while it waits.")
    settled_at: datetime | None


class RejudgementShown(RejudgementRow):
    """A case that was judged once more, with the whole verdict."""

    result: VerdictDocument | None


class RejudgingShown(Document):
    """Whether a case waits to be judged once more."""

    state: Rejudging


class SettlementAsked(Document):
    """What is to become of it: take the newer revision over, or leave the case as it was."""

    how: Literal["take over", "leave"]
