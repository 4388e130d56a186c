"""Photos of parts over REST."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.photos import PhotoShown, PhotosShown, PhotoWanted, TagShown, TagsWanted
from api.views.finding import newest_revision_named, shop_named, signed_in
from cases.models import Photo
from cases.services.photos import add_photo, photos_of, remove_photo, tag_photo


class Photos(APIView):
    """The photos of a circuit: your shops' own, and those that others share."""

    @operation(
        "Photos of a circuit with their tags",
        answer=PhotosShown,
        parameters=(OpenApiParameter("circuit", required=True, description="Its key."),),
    )
    def get(self, request: Request) -> Response:
        key = request.query_params.get("circuit", "")
        if not key:
            raise BadFields([Problem(field="circuit", detail="Name a circuit by its key.")])
        found = photos_of(newest_revision_named(key, "circuit").circuit, signed_in(request))
        return Response(as_json(PhotosShown(circuit=key, photos=tuple(map(_shown, found)))))

    @operation("Keep a photo", takes=PhotoWanted, answer=PhotoShown, status=201)
    def post(self, request: Request) -> Response:
        wanted = read_document(PhotoWanted, request.data)
        photo = add_photo(
            shop=shop_named(request, wanted.shop, "shop"),
            circuit=newest_revision_named(wanted.circuit, "circuit").circuit,
            content=wanted.picture,
            caption=wanted.caption,
            is_own=wanted.own,
            is_shared=wanted.shared,
            by=signed_in(request),
            at=timezone.now(),
        )
        return Response(as_json(_shown(photo)), status=status.HTTP_201_CREATED)


class OnePhoto(APIView):
    """A photo with its tags."""

    @operation("A photo and its tags", answer=PhotoShown, operation_id="photo")
    def get(self, request: Request, pk: int) -> Response:
        return Response(as_json(_shown(_the_photo(request, pk))))

    @operation("Tag a photo anew", takes=TagsWanted, answer=PhotoShown, operation_id="tag_photo")
    def put(self, request: Request, pk: int) -> Response:
        photo = _the_photo(request, pk)
        wanted = read_document(TagsWanted, request.data)
        tags = {tag.place: (tag.across, tag.down) for tag in wanted.tags}
        tag_photo(photo=photo, tags=tags, by=signed_in(request))
        return Response(as_json(_shown(_the_photo(request, pk))))

    @operation("Take a photo away", answer=None, status=204, operation_id="remove_photo")
    def delete(self, request: Request, pk: int) -> Response:
        remove_photo(photo=_the_photo(request, pk), by=signed_in(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


class Picture(APIView):
    """The picture of a photo."""

    @operation("The picture itself", answer={"image/jpeg": OpenApiTypes.BINARY})
    def get(self, request: Request, pk: int) -> HttpResponse:
        return HttpResponse(bytes(_the_photo(request, pk).jpeg), content_type="image/jpeg")


def _the_photo(request: Request, pk: int) -> Photo:
    return get_object_or_404(Photo.objects.visible_to(signed_in(request)), pk=pk)


def _shown(photo: Photo) -> PhotoShown:
    return PhotoShown(
        id=photo.pk,
        circuit=photo.circuit.key,
        caption=photo.caption,
        width=photo.width,
        height=photo.height,
        own=photo.is_own,
        shared=photo.is_shared,
        added_at=photo.added_at,
        tags=tuple(map(TagShown.model_validate, photo.tags.all())),
    )
