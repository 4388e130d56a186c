"""Where the interface begins, and its description."""

from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import Shown


class StartShown(Shown):
    """The addresses from which every other can be found."""

    circuits: str
    cases: str
    search: str
    exercises: str
    shops: str
    vehicles: str
    tokens: str
    description: str
    docs: str


class Start(APIView):
    """The first address."""

    permission_classes = (AllowAny,)

    @operation("Where things are", answer=StartShown, tags=["start"])
    def get(self, request: Request) -> Response:
        names = StartShown.model_fields
        return Response({name: reverse(f"rest:{name}", request=request) for name in names})


class Description(SpectacularAPIView):
    """The OpenAPI description; it holds no case, so anybody may read it."""

    permission_classes = (AllowAny,)


class Docs(SpectacularSwaggerSplitView):
    """The same to read and to try out in the browser, with every file from this server."""

    permission_classes = (AllowAny,)
    url_name = "rest:description"
