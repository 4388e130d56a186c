"""The addresses of the pages of cases, below /cases/."""

from django.urls import path

from cases.views import (
    deeds,
    exchange,
    exercises,
    new_case,
    pages,
    readings,
    rejudged,
    search,
    sharing,
)

app_name = "cases"
urlpatterns = [
    path("", pages.case_list, name="list"),
    path("new/", new_case.new_case, name="new"),
    path("new/redrawn/", new_case.redrawn, name="new-redrawn"),
    path("bring-in/", exchange.bring_in_case, name="import"),
    path("echo/<int:revision_pk>/", new_case.echo, name="echo"),
    path("search/", search.search, name="search"),
    path("search/rows/", search.search_rows, name="search-rows"),
    path("rejudged/", rejudged.rejudged_list, name="rejudged"),
    path("rejudged/<int:pk>/take-over/", rejudged.take_over, name="take-over"),
    path("rejudged/<int:pk>/leave/", rejudged.leave, name="leave"),
    path("exercises/", exercises.exercise_list, name="exercises"),
    path("exercises/<int:pk>/start/", exercises.start, name="start-attempt"),
    path("exercises/<int:pk>/end/", exercises.end_exercise, name="end-exercise"),
    path("attempts/<int:pk>/", exercises.attempt, name="attempt"),
    path("attempts/<int:pk>/name/", exercises.name, name="name-fault"),
    path("<int:pk>/", pages.case_page, name="case"),
    path("<int:pk>/similar/", pages.similar, name="similar"),
    path("<int:pk>/file/", exchange.case_file, name="file"),
    path("<int:pk>/readings/file/", exchange.readings_file, name="readings-file"),
    path("<int:pk>/readings/bring-in/", exchange.bring_in_readings, name="import-readings"),
    path("<int:pk>/edit/", deeds.edit, name="edit"),
    path("<int:pk>/circuit/", deeds.choose_circuit, name="choose-circuit"),
    path("<int:pk>/readings/", readings.add_readings, name="add-readings"),
    path("<int:pk>/readings/after/", readings.after_readings, name="after-readings"),
    path("<int:pk>/readings/<int:reading_pk>/", readings.correct_reading, name="correct-reading"),
    path("<int:pk>/claim/", deeds.claim, name="claim"),
    path("<int:pk>/claim/take-back/", deeds.take_back_claim, name="take-back-claim"),
    path("<int:pk>/repair/", deeds.repair, name="repair"),
    path("<int:pk>/share/", sharing.share, name="share"),
    path("<int:pk>/withdraw/", deeds.withdraw, name="withdraw"),
    path("<int:pk>/exercise/", exercises.set_exercise, name="set-exercise"),
]
