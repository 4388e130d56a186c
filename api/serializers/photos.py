"""Photos: what comes in and what goes out."""

from datetime import datetime
from typing import Annotated

from pydantic import Base64Bytes, BaseModel, ConfigDict, Field

from api.serializers.documents import Shown

Share = Annotated[float, Field(ge=0, le=1)]


class TagShown(Shown):
    """A place in a photo, in fractions from the upper left."""

    place: str
    across: float
    down: float


class TagWanted(BaseModel):
    """A place to be tagged, in fractions from the upper left."""

    model_config = ConfigDict(extra="forbid")

    place: str
    across: Share
    down: Share


class TagsWanted(BaseModel):
    """All tags of a photo: those that are not sent are gone."""

    model_config = ConfigDict(extra="forbid")

    tags: list[TagWanted]


class PhotoWanted(BaseModel):
    """A photo to be kept."""

    model_config = ConfigDict(extra="forbid")

    shop: str
    circuit: str
    caption: str
    own: bool = Field(description="Your own picture; a maker's page never leaves the shop.")
    shared: bool = False
    picture: Base64Bytes = Field(description="JPEG, PNG or WebP in base64.")


class ReadingPhotoWanted(BaseModel):
    """A photo to be kept with a reading."""

    model_config = ConfigDict(extra="forbid")

    picture: Base64Bytes = Field(description="JPEG, PNG or WebP in base64.")


class ReadingPhotoShown(Shown):
    """A photo of a reading without its bytes."""

    id: int = Field(validation_alias="pk")
    width: int
    height: int
    added_at: datetime


class ReadingPhotosShown(Shown):
    """The photos of a reading; none outside the shop."""

    photos: tuple[ReadingPhotoShown, ...]


class PhotoShown(Shown):
    """A photo without its bytes."""

    id: int
    circuit: str
    caption: str
    width: int
    height: int
    own: bool
    shared: bool
    added_at: datetime
    tags: tuple[TagShown, ...]


class PhotosShown(Shown):
    """The photos of a circuit that you may see."""

    circuit: str
    photos: tuple[PhotoShown, ...]
