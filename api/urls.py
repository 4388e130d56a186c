"""Every address of the program, from the root."""

from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import include, path

from api import health
from cases.views.pages import home
from circuits.views.circuits import help_page

urlpatterns = [
    path("", home, name="home"),
    path(
        "sign-in/",
        LoginView.as_view(template_name="sign_in.html", redirect_authenticated_user=True),
        name="sign-in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("help/", help_page, name="help"),
    path("cases/", include("cases.urls")),
    path("circuits/", include("circuits.urls")),
    path("healthz", health.alive),
    path("readyz", health.ready),
    path("admin/", admin.site.urls),
    path("api/", include("api.rest_urls")),
]

handler500 = "api.errors.server_error"
