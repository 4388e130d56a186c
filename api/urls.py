"""Every address of the program, from the root."""

from django.contrib import admin
from django.urls import include, path

from api import health

urlpatterns = [
    path("healthz", health.alive),
    path("readyz", health.ready),
    path("admin/", admin.site.urls),
    path("api/", include("api.rest_urls")),
]

handler500 = "api.errors.server_error"
