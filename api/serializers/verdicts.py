"""Verdicts: what the circuit said about a case, now and before."""

from datetime import datetime

from pydantic import AliasPath, Field

from api.serializers.documents import Shown
from cases.documents.verdicts import PairDocument, VerdictDocument
from cases.services.pairs import PairSearch


class VerdictRow(Shown):
    """A verdict as a line of the history."""

    id: int = Field(validation_alias="pk")
    computed_at: datetime
    circuit: str = Field(validation_alias=AliasPath("revision", "circuit", "key"))
    revision: int = Field(validation_alias=AliasPath("revision", "number"))
    engine_version: str
    claim: str = Field(validation_alias="claimed_suspect")
    outcome: str = Field(description="Of the claim: fits, does not fit, cannot say.")


class VerdictShown(VerdictRow):
    """A verdict with everything that it found.

    Readings are named by their ids; infinite ohms are the text `Infinity`.
    """

    result: VerdictDocument


class PairsShown(Shown):
    """Pairs of faults that explain all readings together, where no single fault does."""

    search: PairSearch
    pairs: tuple[PairDocument, ...]
