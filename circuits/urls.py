"""The addresses of the pages of circuits, below /circuits/."""

from django.urls import path

from circuits.editor import urls as editor_urls
from circuits.views import (
    circuits,
    confirmations,
    drawings,
    findings,
    measuring,
    part_sheets,
    revisions,
    walks,
)

app_name = "circuits"
urlpatterns = [
    path("", circuits.circuit_list, name="list"),
    path("new/", circuits.bring_in, name="import"),
    path("text-form/", circuits.text_form, name="text-form"),
    *editor_urls.urlpatterns,
    path("<slug:key>/", circuits.circuit_page, name="circuit"),
    path("<slug:key>/drawing/", drawings.drawing_page, name="drawing"),
    path("<slug:key>/drawing.svg", drawings.drawing_svg, name="drawing-svg"),
    path("<slug:key>/drawing/nudge/", drawings.nudge, name="nudge"),
    path("<slug:key>/text/", circuits.circuit_text, name="text"),
    path("<slug:key>/test-sheet/", part_sheets.test_sheet, name="test-sheet"),
    path("<slug:key>/finding/", findings.accept, name="accept"),
    path("<slug:key>/finding/take-back/", findings.take_back, name="take-back"),
    path("<slug:key>/confirm/", confirmations.confirm, name="confirm"),
    path("<slug:key>/checked/", confirmations.checked, name="checked"),
    path("<slug:key>/walks/", walks.walk_list, name="walks"),
    path("<slug:key>/walks/write/", walks.write, name="write-walk"),
    path("<slug:key>/walks/<slug:number>/", walks.walk, name="walk"),
    path("<slug:key>/walks/<slug:number>/write/", walks.write, name="change-walk"),
    path("<slug:key>/walks/<slug:number>/remove/", walks.remove, name="remove-walk"),
    path("<slug:key>/rules/", measuring.rules, name="rules"),
    path("<slug:key>/references/", measuring.references, name="references"),
    path(
        "<slug:key>/references/take-back/",
        measuring.take_back,
        name="take-back-reference",
    ),
    path("<slug:key>/compare/", revisions.compare, name="compare"),
    path("<slug:key>/revise/", circuits.bring_in, name="revise"),
]
