"""What a note says about its photo, or about the photos it was fused from."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict, Field


class Record(BaseModel):
    """Base of all parts of a note: they cannot be changed, and have no unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class PhotoFacts(Record):
    """The file of the photo."""

    file: str = Field(description="file name without its folder")
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    width: int = Field(gt=0, description="pixels, after the EXIF turn")
    height: int = Field(gt=0)
    taken: str | None = Field(default=None, description="ISO 8601 local time from the photo, if it says")
    camera: str | None = None
    profile: str = Field(description="the embedded ICC profile's description, or 'assumed sRGB', or 'linear'")


class FusedPhoto(Record):
    """One of several photos that a note was fused from."""

    file: str = Field(description="file name without its folder")
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    taken: str | None = Field(default=None, description="ISO 8601 local time from the photo, if it says")
    camera: str | None = None
    swatches: int = Field(ge=0, description="how many swatches it had a say in")
    left_out: str = Field(default="", description="why it has no say, if it has none")


def identity_of(photo: PhotoFacts, photos: Sequence[FusedPhoto] = ()) -> str:
    """Return the hash that identifies the photos of a reading: the photo's own, or one of all that were fused.

    Parameters
    ----------
    photo : PhotoFacts
    photos : sequence of FusedPhoto
    """
    if not photos:
        return photo.sha256
    return hashlib.sha256("".join(sorted(p.sha256 for p in photos)).encode("ascii")).hexdigest()
