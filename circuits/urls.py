"""The addresses of the pages of circuits, below /circuits/."""

from django.urls import path

from circuits import (
    confirmation_views,
    drawing_views,
    finding_views,
    measuring_views,
    revision_views,
    test_sheet_views,
    views,
    walk_views,
)
from circuits.editor import urls as editor_urls

app_name = "circuits"
urlpatterns = [
    path("", views.circuit_list, name="list"),
    path("new/", views.bring_in, name="import"),
    path("text-form/", views.text_form, name="text-form"),
    *editor_urls.urlpatterns,
    path("<slug:key>/", views.circuit_page, name="circuit"),
    path("<slug:key>/drawing/", drawing_views.drawing_page, name="drawing"),
    path("<slug:key>/drawing.svg", drawing_views.drawing_svg, name="drawing-svg"),
    path("<slug:key>/drawing/nudge/", drawing_views.nudge, name="nudge"),
    path("<slug:key>/text/", views.circuit_text, name="text"),
    path("<slug:key>/test-sheet/", test_sheet_views.test_sheet, name="test-sheet"),
    path("<slug:key>/finding/", finding_views.accept, name="accept"),
    path("<slug:key>/finding/take-back/", finding_views.take_back, name="take-back"),
    path("<slug:key>/confirm/", confirmation_views.confirm, name="confirm"),
    path("<slug:key>/checked/", confirmation_views.checked, name="checked"),
    path("<slug:key>/walks/", walk_views.walk_list, name="walks"),
    path("<slug:key>/walks/write/", walk_views.write, name="write-walk"),
    path("<slug:key>/walks/<slug:number>/", walk_views.walk, name="walk"),
    path("<slug:key>/walks/<slug:number>/write/", walk_views.write, name="change-walk"),
    path("<slug:key>/walks/<slug:number>/remove/", walk_views.remove, name="remove-walk"),
    path("<slug:key>/rules/", measuring_views.rules, name="rules"),
    path("<slug:key>/references/", measuring_views.references, name="references"),
    path(
        "<slug:key>/references/take-back/",
        measuring_views.take_back,
        name="take-back-reference",
    ),
    path("<slug:key>/compare/", revision_views.compare, name="compare"),
    path("<slug:key>/revise/", views.bring_in, name="revise"),
]
