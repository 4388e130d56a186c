"""Where the interface begins, and its description."""

from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.schema import operation

BEGINNINGS = ("circuits", "cases", "search", "exercises", "shops", "vehicles", "tokens", "docs")


class Start(APIView):
    """The first address: from here every other can be found."""

    permission_classes = (AllowAny,)

    @operation("Where things are", answer=serializers.DictField(child=serializers.URLField()))
    def get(self, request: Request) -> Response:
        return Response({name: reverse(f"rest:{name}", request=request) for name in BEGINNINGS})


class Description(SpectacularAPIView):
    """The OpenAPI description; it holds no case, so anybody may read it."""

    permission_classes = (AllowAny,)


class Docs(SpectacularSwaggerSplitView):
    """The same to read and to try out in the browser, with every file from this server."""

    permission_classes = (AllowAny,)
    url_name = "rest:description"
