"""Signing in for a token, and what a token opens.

RFC 6750 says how a bearer token is sent and how a 401 asks for one.
"""

import hashlib
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.utils import timezone
from rest_framework.test import APIClient

from api.models import ApiToken
from api.tokens import issue_token
from tests.api.rest import program_of

pytestmark = pytest.mark.django_db
PASSWORD = "correct horse battery staple"


@pytest.fixture
def mara() -> User:
    return User.objects.create_user("mara", password=PASSWORD)


@pytest.fixture
def ivo() -> User:
    return User.objects.create_user("ivo", password=PASSWORD)


def sign_in(**changes: object) -> Any:
    wanted = {"username": "mara", "password": PASSWORD, "name": "bench laptop", **changes}
    return APIClient().post("/api/tokens/", wanted)


def with_header(header: str) -> APIClient:
    program = APIClient()
    program.credentials(HTTP_AUTHORIZATION=header)
    return program


def test_name_and_password_give_a_token_that_opens_the_door(mara) -> None:
    answer = sign_in()
    listed = with_header(f"Bearer {answer.data['token']}").get("/api/tokens/")

    assert answer.status_code == 201
    assert answer["Cache-Control"] == "no-store"  # RFC 6749, section 5.1
    assert [row["name"] for row in listed.data["results"]] == ["bench laptop"]
    assert "token" not in listed.data["results"][0]


def test_only_the_digest_of_a_token_is_kept(mara) -> None:
    text = sign_in().data["token"]
    kept = ApiToken.objects.get()

    assert bytes(kept.digest) == hashlib.sha256(text.encode()).digest()
    assert text.split("_", 2)[:2] == ["copperlog", kept.key_id]
    assert len(text.split("_", 2)[2]) >= 43  # 256 bits in base64


def test_a_token_lasts_as_long_as_was_asked(mara) -> None:
    sign_in(days=7)
    kept = ApiToken.objects.get()

    assert kept.expires_at - kept.created_at == timedelta(days=7)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"days": 0}, "days"),
        ({"days": "soon"}, "days"),
        ({"days": 10**30}, "days"),
        ({"name": ""}, "name"),
        ({"name": "x" * 61}, "name"),
        ({"username": "ma\0ra"}, "username"),
        ({"password": None}, "password"),
        ({"username": ["mara"]}, "username"),
    ],
)
def test_a_bad_field_is_named(mara, changes, field) -> None:
    answer = sign_in(**changes)

    assert answer.status_code == 400
    assert answer.data["code"] == "bad_fields"
    assert [error["field"] for error in answer.data["errors"]] == [field]
    assert not ApiToken.objects.exists()


def test_a_wrong_password_gives_no_token_and_says_no_more_than_that(mara) -> None:
    wrong = sign_in(password="battery")
    nobody = sign_in(username="nobody")

    assert wrong.status_code == nobody.status_code == 401
    assert wrong.data == nobody.data
    assert wrong["WWW-Authenticate"].startswith("Bearer")


def test_ten_wrong_passwords_shut_the_door_for_a_while(mara) -> None:
    answers = [sign_in(password="battery") for _ in range(10)]
    right_but_late = sign_in()

    assert {answer.status_code for answer in answers[:9]} == {401}
    assert answers[9].status_code == right_but_late.status_code == 429
    assert right_but_late.data["code"] == "locked_out"
    assert int(right_but_late["Retry-After"]) == 900


def test_signing_in_forgets_the_wrong_passwords_before_it(mara) -> None:
    for _ in range(3):
        for _ in range(9):
            sign_in(password="battery")
        answer = sign_in()

        assert answer.status_code == 201


def test_a_person_who_has_left_gets_no_token(mara) -> None:
    mara.is_active = False
    mara.save()

    assert sign_in().status_code == 401


def test_a_token_of_a_person_who_has_left_opens_nothing(mara) -> None:
    program = program_of(mara)
    mara.is_active = False
    mara.save()

    assert program.get("/api/tokens/").status_code == 401


def test_a_revoked_token_opens_nothing(mara) -> None:
    text = sign_in().data["token"]
    program = with_header(f"Bearer {text}")
    revoked = program.delete(f"/api/tokens/{text.split('_')[1]}/")
    answer = program.get("/api/tokens/")

    assert revoked.status_code == 204
    assert answer.status_code == 401
    assert "revoked" in answer.data["detail"]


def test_a_new_password_makes_older_tokens_worthless(mara) -> None:
    older = with_header(f"Bearer {sign_in().data['token']}")
    mara.set_password("another battery staple")
    mara.save()
    newer = with_header(f"Bearer {sign_in(password='another battery staple').data['token']}")
    answer = older.get("/api/tokens/")

    assert answer.status_code == 401
    assert "older than the password" in answer.data["detail"]
    assert newer.get("/api/tokens/").status_code == 200


def test_an_expired_token_opens_nothing(mara) -> None:
    _, text = issue_token(by=mara, name="old", days=1, at=timezone.now() - timedelta(days=2))
    answer = with_header(f"Bearer {text}").get("/api/tokens/")

    assert answer.status_code == 401
    assert "expired" in answer.data["detail"]


def test_somebody_elses_token_cannot_be_seen_or_revoked(mara, ivo) -> None:
    token, _ = issue_token(by=mara, name="bench laptop", at=timezone.now())
    program = program_of(ivo)

    assert program.delete(f"/api/tokens/{token.key_id}/").status_code == 404
    assert [row["name"] for row in program.get("/api/tokens/").data["results"]] == ["test program"]
    token.refresh_from_db()
    assert token.revoked_at is None


@pytest.mark.parametrize(
    "header",
    [
        "Bearer",
        "Bearer two words",
        "Bearer copperlog_000000000000_",
        "Bearer copperlog_000000000000_AAAA",
        "Bearer other_000000000000_AAAA",
        "Bearer copperlog_\xe9_AAAA",
        pytest.param("Bearer " + "A" * 5000, id="long"),
        "Basic bWFyYTpiYXR0ZXJ5",
        "",
    ],
)
def test_what_is_no_token_is_a_401_with_a_challenge(mara, header) -> None:
    answer = with_header(header).get("/api/tokens/")

    assert answer.status_code == 401
    assert answer["WWW-Authenticate"] == 'Bearer realm="Copperlog"'


def test_one_changed_letter_makes_a_token_worthless(mara) -> None:
    _, text = issue_token(by=mara, name="bench laptop", at=timezone.now())
    last = "A" if text[-1] != "A" else "B"

    assert with_header(f"Bearer {text[:-1]}{last}").get("/api/tokens/").status_code == 401
    assert with_header(f"bearer {text}").get("/api/tokens/").status_code == 200  # case is free


def test_the_last_use_is_written_once_a_minute(mara, django_assert_num_queries) -> None:
    token, text = issue_token(by=mara, name="bench laptop", at=timezone.now())
    program = with_header(f"Bearer {text}")
    program.get("/api/tokens/")
    token.refresh_from_db()
    first = token.last_used_at

    with django_assert_num_queries(3):  # the token with its person, the count, the rows
        program.get("/api/tokens/")
    token.refresh_from_db()
    assert first is not None
    assert token.last_used_at == first

    ApiToken.objects.update(last_used_at=first - timedelta(minutes=2))
    program.get("/api/tokens/")
    token.refresh_from_db()
    assert token.last_used_at >= first


def test_a_browser_session_writes_only_with_its_anti_forgery_token(mara) -> None:
    token, _ = issue_token(by=mara, name="bench laptop", at=timezone.now())
    browser = APIClient(enforce_csrf_checks=True)
    browser.force_login(mara)

    assert browser.get("/api/tokens/").status_code == 200
    assert browser.delete(f"/api/tokens/{token.key_id}/").status_code == 403


def test_the_command_issues_lists_and_revokes(mara, capsys) -> None:
    call_command("token", "issue", "mara", "--name", "night job", "--days", "30")
    text = capsys.readouterr().out.strip()
    call_command("token", "list", "mara")
    listed = capsys.readouterr().out
    key_id = text.split("_")[1]

    assert with_header(f"Bearer {text}").get("/api/tokens/").status_code == 200
    assert key_id in listed
    assert "night job" in listed

    call_command("token", "revoke", key_id)

    assert with_header(f"Bearer {text}").get("/api/tokens/").status_code == 401


@pytest.mark.parametrize(
    "words",
    [
        ("issue", "nobody", "--name", "x"),
        ("issue", "mara", "--name", "x", "--days", "0"),
        ("issue", "mara", "--name", " "),
        ("list", "nobody"),
        ("revoke", "000000000000"),
    ],
)
def test_the_command_refuses_bad_input_with_status_two(mara, words) -> None:
    with pytest.raises(CommandError) as refused:
        call_command("token", *words)

    assert refused.value.returncode == 2


def test_a_token_that_may_only_read_asks_and_searches_and_changes_nothing(
    mara,
) -> None:
    """Every address that a program may write to refuses it, before it looks at what is there."""
    answer = sign_in(reads_only=True)
    program = with_header(f"Bearer {answer.data['token']}")
    asked = {"readings": [], "words": "pump"}
    refused = [
        getattr(program, method)(f"/api/{where}/", {}, format="json")
        for method, where in (
            ("post", "cases"),
            ("post", "circuits"),
            ("put", "cases/1/claim"),
            ("delete", f"tokens/{answer.data['id']}"),
        )
    ]

    assert answer.data["reads_only"] is True
    assert program.get("/api/cases/").status_code == 200
    assert program.post("/api/search/", asked, format="json").status_code == 200
    assert {each.status_code for each in refused} == {403}
    assert {each.data["detail"][:25] for each in refused} == {"This token may only read."}
    assert ApiToken.objects.get().revoked_at is None
    assert (
        with_header(f"Bearer {sign_in().data['token']}").post("/api/cases/", {}).status_code == 400
    )
