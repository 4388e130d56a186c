"""The pages of older logs, as an owner meets them. Common practice, no source."""

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from cases.models import Case, OlderLog
from tests.cast import Cast
from tests.jobs import run_jobs
from tests.pages.words import words_of

GOOD = b"case,make,complaint\n1,Tolvane,Horn silent\n"
MIXED = GOOD + b"2,,Wipers stop\n"


def sent(content: bytes, wanted: str = "check") -> dict[str, object]:
    return {"file": SimpleUploadedFile("old.csv", content), "wanted": wanted, "shop": ""}


def test_an_owner_checks_a_log_sees_what_is_refused_and_takes_the_good_cases_in(
    cast: Cast, visit
) -> None:
    owner = visit(cast.owner)
    answer = owner.post("/cases/logs/", {**sent(MIXED), "shop": cast.shop.pk}, follow=True)
    log = OlderLog.objects.get()
    page = answer.content.decode()

    assert "Waiting for its turn" in page
    assert 'hx-trigger="every 1s"' in page
    assert '<noscript><meta http-equiv="refresh"' in page
    run_jobs()
    address = reverse("cases:older-log", args=[log.pk])
    part = owner.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "hx-trigger" not in part
    assert "<html" not in part
    words = words_of(owner.get(address))
    assert "Checked" in words
    assert "Line 3 make : is empty. Fill this cell in." in words
    assert "Take 1 case in" in words
    owner.post(reverse("cases:go-on-with-log", args=[log.pk]), {"wanted": "good"})
    run_jobs()
    assert Case.objects.get().complaint == "Horn silent"
    assert "Taken in" in words_of(owner.get(address))


def test_refused_lines_are_a_file_under_the_same_columns(cast: Cast, visit) -> None:
    owner = visit(cast.owner)
    owner.post("/cases/logs/", {**sent(MIXED, "good"), "shop": cast.shop.pk})
    run_jobs()
    answer = owner.get(reverse("cases:refused-lines", args=[OlderLog.objects.get().pk]))
    heading, line = answer.content.decode().splitlines()

    assert "attachment" in answer["Content-Disposition"]
    assert heading == "case,make,complaint,refused_because"
    assert line.startswith("2,,Wipers stop,make: is empty.")


def test_a_heading_that_cannot_be_read_is_told_at_once(cast: Cast, visit) -> None:
    body = {**sent(b"make,complaynt\nT,x\n"), "shop": cast.shop.pk}
    answer = visit(cast.owner).post("/cases/logs/", body)

    assert answer.status_code == 422
    assert "Did you mean complaint?" in words_of(answer)
    assert not OlderLog.objects.exists()


def test_a_technician_sees_how_a_log_stands_and_cannot_change_it(cast: Cast, visit) -> None:
    visit(cast.owner).post("/cases/logs/", {**sent(MIXED), "shop": cast.shop.pk})
    run_jobs()
    log = OlderLog.objects.get()
    technician = visit(cast.technician)
    go_on = reverse("cases:go-on-with-log", args=[log.pk])
    page = technician.get(reverse("cases:older-log", args=[log.pk]))

    assert page.status_code == 200
    assert go_on not in page.content.decode()
    assert technician.post(go_on, {"wanted": "good"}).status_code == 403
    assert "An owner of your shop" in words_of(technician.get("/cases/logs/"))
    assert visit(cast.outsider).get(reverse("cases:older-log", args=[log.pk])).status_code == 404


def test_the_empty_table_is_one_that_can_be_filled_in(cast: Cast, visit) -> None:
    heading = visit(cast.owner).get("/cases/logs/table/").content.decode()
    names = heading.strip().split(",")
    row = ["Tolvane" if n == "make" else "Horn silent" if n == "complaint" else "" for n in names]
    body = {**sent(f"{heading}{','.join(row)}\n".encode(), "good"), "shop": cast.shop.pk}
    visit(cast.owner).post("/cases/logs/", body)
    run_jobs()

    assert Case.objects.get().complaint == "Horn silent"


def test_a_log_is_taken_off_the_list(cast: Cast, visit) -> None:
    owner = visit(cast.owner)
    owner.post("/cases/logs/", {**sent(GOOD, "good"), "shop": cast.shop.pk})
    run_jobs()
    log = OlderLog.objects.get()
    answer = owner.post(reverse("cases:take-log-away", args=[log.pk]), follow=True)

    assert "Cases that came in stay" in words_of(answer)
    assert (OlderLog.objects.count(), Case.objects.count()) == (0, 1)
