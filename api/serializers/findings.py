"""What is sent to accept a finding."""

from typing import Annotated

from pydantic import Field, StringConstraints

from cases.documents.base import Document, Text
from circuits.models import REASON_LENGTH


class AcceptanceWanted(Document):
    """A finding that is to stay as it is, and why it may."""

    finding: Annotated[Text, StringConstraints(max_length=80)] = Field(
        description="The id of the finding, such as `no-fuse:W1`."
    )
    reason: Annotated[Text, StringConstraints(max_length=REASON_LENGTH)] = Field(
        description="What makes it right on this vehicle, and how that is known."
    )
