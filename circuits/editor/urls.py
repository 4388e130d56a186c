"""The addresses at which circuits are written; `circuits.urls` takes them in, below /circuits/."""

from django.urls import path

from circuits.editor import views

urlpatterns = [
    path("write/", views.begin, name="begin"),
    path("write/<slug:draft>/", views.write, name="write"),
    path("write/<slug:draft>/keep/", views.keep, name="keep"),
    path("write/<slug:draft>/seen/", views.seen, name="seen"),
    path("write/<slug:draft>/inspected/", views.inspected, name="inspected"),
    path("write/<slug:draft>/changed/", views.changed, name="changed"),
    path("write/<slug:draft>/pins/", views.device_rows, name="device-rows"),
]
