"""Every address: who may come in, and who must see nothing."""

from collections.abc import Iterator
from types import ModuleType

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from cases import urls as case_urls
from cases.models import Case, LoggedReading, Wanted
from cases.services.exercises import open_exercise, start_attempt
from cases.services.older_logs.taking_in import keep_log
from circuits import urls as circuit_urls
from tests.cast import FEED_FAULT, FEED_READINGS, MONDAY, Cast, logged, shared
from tests.jobs import run_jobs
from tests.redrawn import POOR_JOINTS, redrawn

SAFE_ONLY, UNSEEN = 405, 404


def _routes(urls: ModuleType) -> Iterator[tuple[str, URLPattern]]:
    for pattern in urls.urlpatterns:
        yield f"{urls.app_name}:{pattern.name}", pattern


def _address(name: str, *, pk: int, reading: LoggedReading | None, revision: int) -> str:
    pattern = dict(_routes(case_urls))[name]
    wanted = pattern.pattern.converters
    values = {"pk": pk, "reading_pk": reading.pk if reading else 0, "revision_pk": revision}
    return reverse(name, kwargs={key: values[key] for key in wanted})


@pytest.fixture
def private_case(cast: Cast, fuel_pump) -> Case:
    return logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)


def test_an_outsider_meets_nothing_at_any_address_of_a_case(
    cast: Cast, private_case: Case, fuel_pump, visit
) -> None:
    """Another shop's case is not there for the outsider, whatever is asked of it; nor are the
    exercises and attempts of a class they do not belong to."""
    lesson = shared(logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT), by=cast.technician)
    exercise = open_exercise(case=lesson, shop=cast.college, by=cast.trainer, at=MONDAY)
    attempt = start_attempt(exercise=exercise, by=cast.learner, at=MONDAY)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    log = keep_log(
        shop=cast.shop,
        name="old.csv",
        content=b"make,complaint\nTolvane,Horn silent\n",
        wanted=Wanted.CHECK,
        by=cast.owner,
        at=MONDAY,
    )
    outsider = visit(cast.outsider)
    answers = {}
    for name, pattern in _routes(case_urls):
        if "<int:pk>" not in str(pattern.pattern):
            continue
        pk = {
            "exercises": exercise.pk,
            "attempts": attempt.pk,
            "rejudged": private_case.rejudgements.get().pk,
            "logs": log.pk,
        }.get(str(pattern.pattern).partition("/")[0], private_case.pk)
        address = _address(
            name, pk=pk, reading=private_case.readings.first(), revision=fuel_pump.pk
        )
        answers[name] = {outsider.get(address).status_code, outsider.post(address, {}).status_code}

    assert len(answers) > 15
    assert {name: seen for name, seen in answers.items() if UNSEEN not in seen} == {}
    assert {name: seen for name, seen in answers.items() if seen - {UNSEEN, SAFE_ONLY}} == {}


def test_nobody_comes_in_without_signing_in(private_case: Case, fuel_pump, client) -> None:
    let_in = []
    for name, pattern in (*_routes(case_urls), *_routes(circuit_urls)):
        if name.startswith("cases:"):
            reading = private_case.readings.first()
            address = _address(name, pk=private_case.pk, reading=reading, revision=fuel_pump.pk)
        else:
            address = reverse(name, kwargs=dict.fromkeys(pattern.pattern.converters, "fuel-pump"))
        for answer in (client.get(address), client.post(address, {})):
            if not answer.get("Location", "").startswith("/sign-in/"):
                let_in.append(name)

    assert let_in == []


@pytest.mark.parametrize("address", ["/", "/help/"])
def test_the_start_page_and_the_help_ask_to_sign_in_too(address: str, client, db) -> None:
    assert client.get(address)["Location"].startswith("/sign-in/")


def test_the_shop_sees_its_case_and_the_outsider_does_not(
    cast: Cast, private_case: Case, visit
) -> None:
    page = reverse("cases:case", args=[private_case.pk])

    assert visit(cast.owner).get(page).status_code == 200
    assert visit(cast.outsider).get(page).status_code == 404
    assert private_case.complaint not in visit(cast.outsider).get("/cases/").content.decode()


def test_a_shared_case_shows_neither_plate_nor_vin_nor_people(
    cast: Cast, private_case: Case, visit
) -> None:
    shared(private_case, by=cast.technician)
    page = visit(cast.outsider).get(reverse("cases:case", args=[private_case.pk]))
    text = page.content.decode()

    assert page.status_code == 200
    for secret in ("TEST 042", "1G4AH59H45G118341", "Ellery", ">tarn<", "tarn,"):
        assert secret not in text


def test_what_another_shop_may_see_it_may_not_change(cast: Cast, private_case: Case, visit) -> None:
    """Seen but not allowed is 403, with the reason in words; the page offers none of it."""
    shared(private_case, by=cast.technician)
    outsider = visit(cast.outsider)
    page = outsider.get(reverse("cases:case", args=[private_case.pk])).content.decode()
    for deed in ("edit", "claim", "repair", "share", "withdraw", "add-readings", "choose-circuit"):
        address = reverse(f"cases:{deed}", args=[private_case.pk])
        answer = outsider.post(address, {"reason": "mine now"})

        assert answer.status_code == 403, deed
        assert "Only the shop that did the repair can" in answer.content.decode()
        assert f'"{address}"' not in page


def test_a_withdrawn_case_is_gone_for_others_and_kept_with_its_reason_at_home(
    cast: Cast, private_case: Case, visit
) -> None:
    shared(private_case, by=cast.technician)
    address = reverse("cases:withdraw", args=[private_case.pk])
    visit(cast.technician).post(address, {"reason": "wrong car"})
    page = reverse("cases:case", args=[private_case.pk])

    assert visit(cast.outsider).get(page).status_code == 404
    own = visit(cast.technician).get(page).content.decode()
    assert "wrong car" in own
    assert f'"{reverse("cases:add-readings", args=[private_case.pk])}"' not in own


@pytest.mark.parametrize("nonsense", ["\x00", "9" * 5000, "-1", "٣", "<b>", "a" * 500, "../.."])
def test_nonsense_in_an_address_is_never_our_bug(
    nonsense: str, cast: Cast, fuel_pump, visit
) -> None:
    client = visit(cast.technician)
    rows = {"readings-TOTAL_FORMS": nonsense, "readings-0-text": nonsense}
    asked = {
        "/cases/": dict.fromkeys(("standing", "circuit", "shop", "outcome", "page"), nonsense),
        "/cases/new/": {"circuit": nonsense, "complaint": nonsense, **rows},
        "/cases/search/": {"circuit": nonsense, "words": nonsense, "system": nonsense, **rows},
        "/circuits/": {"words": nonsense, "page": nonsense},
        "/circuits/fuel-pump/": {"fault": nonsense, "severity": nonsense},
        "/circuits/fuel-pump/text/": {"revision": nonsense, "form": nonsense},
        f"/cases/echo/{fuel_pump.pk}/": {"place": nonsense, "text": nonsense},
        "/cases/99999999999999999999/": {},
    }
    answers = {address: client.get(address, query).status_code for address, query in asked.items()}

    assert {address: code for address, code in answers.items() if code >= 500} == {}
    posted = client.post("/cases/new/", {"circuit": "fuel-pump", "shop": nonsense, **rows})
    assert posted.status_code == 422


def test_ten_wrong_passwords_shut_the_door_and_say_for_how_long(cast: Cast, client) -> None:
    answers = [
        client.post("/sign-in/", {"username": "tarn", "password": f"guess {number}"})
        for number in range(10)
    ]

    assert "for a quarter of an hour" in answers[-1].content.decode()
    right = client.post("/sign-in/", {"username": "tarn", "password": "a long enough phrase"})
    assert "_auth_user_id" not in client.session
    assert right.status_code == 429


def test_a_form_from_an_old_page_is_refused_in_words(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post("/cases/new/", {"complaint": "x"})

    assert answer.status_code == 403
    assert "The page was too old to be saved" in answer.content.decode()


def test_when_we_break_the_page_says_that_nothing_was_half_saved(
    cast: Cast, visit, monkeypatch
) -> None:
    def broken(*args: object, **kwargs: object) -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("cases.views.pages.summaries", broken)
    client = visit(cast.technician)
    client.raise_request_exception = False
    answer = client.get("/")

    assert answer.status_code == 500
    assert "Nothing was half saved" in answer.content.decode()
