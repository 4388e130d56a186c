"""Photos of readings over REST."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.parsers import PictureParser
from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.photos import ReadingPhotoShown, ReadingPhotosShown, ReadingPhotoWanted
from api.views.finding import signed_in, the_case
from cases.models import LoggedReading, ReadingPhoto
from cases.services.reading_photos import (
    add_reading_photo,
    photos_of_reading,
    remove_reading_photo,
)


class ReadingPhotos(APIView):
    """The photos of a reading: of the display, a trace, the spot."""

    parser_classes = (PictureParser,)

    @operation(
        "Photos of a reading",
        answer=ReadingPhotosShown,
        words="They stay in the shop when the case is shared, and travel in its document.",
    )
    def get(self, request: Request, pk: int, reading_pk: int) -> Response:
        found = photos_of_reading(_the_reading(request, pk, reading_pk), signed_in(request))
        shown = tuple(map(ReadingPhotoShown.model_validate, found))
        return Response(as_json(ReadingPhotosShown(photos=shown)))

    @operation(
        "Keep a photo with a reading",
        takes=ReadingPhotoWanted,
        answer=ReadingPhotoShown,
        status=201,
        words="It is written anew, without place, time and camera.",
    )
    def post(self, request: Request, pk: int, reading_pk: int) -> Response:
        photo = add_reading_photo(
            reading=_the_reading(request, pk, reading_pk),
            content=read_document(ReadingPhotoWanted, request.data).picture,
            by=signed_in(request),
            at=timezone.now(),
        )
        shown = ReadingPhotoShown.model_validate(photo)
        return Response(as_json(shown), status=status.HTTP_201_CREATED)


class OneReadingPhoto(APIView):
    """One photo of a reading."""

    @operation(
        "The picture itself",
        answer={"image/jpeg": OpenApiTypes.BINARY},
        operation_id="reading_picture",
    )
    def get(self, request: Request, pk: int) -> HttpResponse:
        return HttpResponse(bytes(_the_photo(request, pk).jpeg), content_type="image/jpeg")

    @operation("Take a photo of a reading away", answer=None, status=204)
    def delete(self, request: Request, pk: int) -> Response:
        remove_reading_photo(photo=_the_photo(request, pk), by=signed_in(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


def _the_reading(request: Request, pk: int, reading_pk: int) -> LoggedReading:
    readings = the_case(request, pk).readings.select_related("case")
    return get_object_or_404(readings, pk=reading_pk)


def _the_photo(request: Request, pk: int) -> ReadingPhoto:
    photos = ReadingPhoto.objects.visible_to(signed_in(request))
    return get_object_or_404(photos.select_related("reading__case"), pk=pk)
