"""The addresses of the REST interface, below /api/."""

from django.urls import path, re_path

from api.errors import no_such_address
from api.views import (
    cases,
    circuits,
    docs,
    exchange,
    exercises,
    findings,
    readings,
    rejudgements,
    search,
    shops,
    tokens,
)

app_name = "rest"
urlpatterns = [
    path("", docs.Start.as_view(), name="start"),
    path("schema/", docs.Description.as_view(), name="description"),
    path("docs/", docs.Docs.as_view(), name="docs"),
    path("tokens/", tokens.Tokens.as_view(), name="tokens"),
    path("tokens/<slug:key_id>/", tokens.Token.as_view(), name="token"),
    path("circuits/", circuits.Circuits.as_view(), name="circuits"),
    path("circuits/<slug:key>/", circuits.OneCircuit.as_view(), name="circuit"),
    path("circuits/<slug:key>/revisions/", circuits.Revisions.as_view(), name="revisions"),
    path(
        "circuits/<slug:key>/revisions/<int:number>/",
        circuits.OneRevision.as_view(),
        name="revision",
    ),
    path(
        "circuits/<slug:key>/revisions/<int:number>/changes/",
        circuits.Changes.as_view(),
        name="changes",
    ),
    path("circuits/<slug:key>/suspects/", circuits.Suspects.as_view(), name="suspects"),
    path("circuits/<slug:key>/findings/", findings.Findings.as_view(), name="findings"),
    path("circuits/<slug:key>/acceptances/", findings.Acceptances.as_view(), name="acceptances"),
    path("circuits/<slug:key>/readings/", circuits.Predictions.as_view(), name="predictions"),
    path("cases/", cases.Cases.as_view(), name="cases"),
    path("cases/<int:pk>/", cases.OneCase.as_view(), name="case"),
    path("cases/<int:pk>/facts/", cases.Facts.as_view(), name="facts"),
    path("cases/<int:pk>/circuit/", cases.CircuitOfCase.as_view(), name="circuit-of-case"),
    path("cases/<int:pk>/claim/", cases.ClaimOfCase.as_view(), name="claim"),
    path("cases/<int:pk>/repair/", cases.RepairOfCase.as_view(), name="repair"),
    path("cases/<int:pk>/withdrawal/", cases.Withdrawal.as_view(), name="withdrawal"),
    path("cases/<int:pk>/share/", cases.Share.as_view(), name="share"),
    path("cases/<int:pk>/readings/", readings.Readings.as_view(), name="readings"),
    path(
        "cases/<int:pk>/readings/<int:reading_pk>/correction/",
        readings.CorrectionOfReading.as_view(),
        name="correction",
    ),
    path("cases/<int:pk>/verdicts/", readings.Verdicts.as_view(), name="verdicts"),
    path(
        "cases/<int:pk>/verdicts/<int:verdict_pk>/", readings.OneVerdict.as_view(), name="verdict"
    ),
    path("cases/<int:pk>/similar/", search.Similar.as_view(), name="similar"),
    path("cases/<int:pk>/document/", exchange.CaseAsDocument.as_view(), name="document"),
    path("rejudgements/", rejudgements.Rejudgements.as_view(), name="rejudgements"),
    path("rejudgements/<int:pk>/", rejudgements.OneRejudgement.as_view(), name="rejudgement"),
    path(
        "rejudgements/<int:pk>/settlement/",
        rejudgements.SettlementOfRejudgement.as_view(),
        name="settlement",
    ),
    path("search/", search.Search.as_view(), name="search"),
    path("exercises/", exercises.Exercises.as_view(), name="exercises"),
    path("exercises/<int:pk>/", exercises.OneExercise.as_view(), name="exercise"),
    path("exercises/<int:pk>/attempts/", exercises.Attempts.as_view(), name="attempts"),
    path("attempts/<int:pk>/", exercises.OneAttempt.as_view(), name="attempt"),
    path("attempts/<int:pk>/readings/", exercises.AskedReadings.as_view(), name="asked-readings"),
    path("attempts/<int:pk>/fault/", exercises.NamedFault.as_view(), name="named-fault"),
    path("shops/", shops.Shops.as_view(), name="shops"),
    path("shops/<slug:slug>/", shops.OneShop.as_view(), name="shop"),
    path("shops/<slug:slug>/members/", shops.Members.as_view(), name="members"),
    path("shops/<slug:slug>/members/<str:username>/", shops.Member.as_view(), name="member"),
    path("shops/<slug:slug>/cases/", exchange.CasesTakenIn.as_view(), name="cases-taken-in"),
    path("vehicles/", shops.Vehicles.as_view(), name="vehicles"),
    path("vehicles/<int:pk>/", shops.OneVehicle.as_view(), name="vehicle"),
    re_path("", no_such_address),
]
