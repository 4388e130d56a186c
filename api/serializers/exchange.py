"""The log of a case as it travels."""

from api.serializers.documents import Shown
from cases.documents.readings import ReadingDocument


class ReadingsShown(Shown):
    """The log of a case, line by line, corrected lines too."""

    readings: tuple[ReadingDocument, ...]
