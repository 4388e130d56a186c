"""Every address of the program, from the root."""

from django.contrib import admin
from django.urls import path

from api import health

urlpatterns = [
    path("healthz", health.alive),
    path("readyz", health.ready),
    path("admin/", admin.site.urls),
]
