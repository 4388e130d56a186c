"""The addresses of the REST interface, below /api/."""

from django.urls import path, re_path

from api.errors import no_such_address
from api.views import docs, tokens

app_name = "rest"
urlpatterns = [
    path("", docs.Start.as_view(), name="start"),
    path("schema/", docs.Description.as_view(), name="description"),
    path("docs/", docs.Docs.as_view(), name="docs"),
    path("tokens/", tokens.Tokens.as_view(), name="tokens"),
    path("tokens/<slug:key_id>/", tokens.Token.as_view(), name="token"),
    re_path("", no_such_address),
]
