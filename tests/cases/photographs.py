"""A photo as a telephone makes it: with the place where it was taken in it."""

import io

from PIL import Image

from cases.models import LoggedReading, Photo, ReadingPhoto
from cases.services.photos import add_photo
from cases.services.reading_photos import add_reading_photo
from circuits.models import Circuit
from tests.cast import MONDAY, Cast

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F


def telephone_jpeg(width: int = 400, height: int = 200) -> bytes:
    """Return a JPEG that lies on its side, with a maker and a position north of the equator."""
    picture = Image.new("RGB", (width, height), "#94461a")
    exif = picture.getexif()
    exif[ORIENTATION], exif[MAKER] = 6, "Telephone"
    exif.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 0.0)})
    written = io.BytesIO()
    picture.save(written, "JPEG", exif=exif)
    return written.getvalue()


def photographed(cast: Cast, circuit: Circuit, *, is_shared: bool = False) -> Photo:
    """Return a photo of the technician's own, kept in their shop."""
    return add_photo(
        shop=cast.shop,
        circuit=circuit,
        content=telephone_jpeg(),
        caption="The pump's plug",
        is_own=True,
        is_shared=is_shared,
        by=cast.technician,
        at=MONDAY,
    )


def photographed_reading(cast: Cast, reading: LoggedReading) -> ReadingPhoto:
    """Return a photo of a reading, by the technician of its shop."""
    return add_reading_photo(
        reading=reading, content=telephone_jpeg(), by=cast.technician, at=MONDAY
    )
