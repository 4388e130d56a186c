"""The pages of revisions: side by side, saved by two at once, and what a case makes of them."""

from django.urls import reverse

from circuits.models import Circuit
from tests.cast import FEED_FAULT, FEED_READINGS, Cast, logged, publish
from tests.jobs import a_worker_was_seen, run_jobs
from tests.pages.words import words_of
from tests.redrawn import COIL_WIRE, POOR_JOINTS, PUMP, redrawn

REVISE = reverse("circuits:revise", args=["fuel-pump"])


def sent(old: str, new: str, *, base: int | str, note: str = "Measured.") -> dict[str, object]:
    assert PUMP.count(old) == 1
    return {"text": PUMP.replace(old, new), "note": note, "redrawn": "own", "base": base}


def test_two_revisions_stand_side_by_side_with_who_and_why(cast: Cast, fuel_pump, visit) -> None:
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    page = words_of(visit(cast.technician).get(reverse("circuits:compare", args=["fuel-pump"])))

    assert "Revision 1 and revision 2" in page
    assert "Tove Marlgrave: Measured again." in page
    assert "joints 2 mOhm" in page
    assert "joints 1.1 Ohm [measured on three cars]" in page


def test_one_revision_alone_says_so_and_nonsense_is_passed_over(
    cast: Cast, fuel_pump, visit
) -> None:
    address = reverse("circuits:compare", args=["fuel-pump"])
    answers = [visit(cast.technician).get(address, {"old": old}) for old in ("", "9", "x", "\x00")]

    assert {answer.status_code for answer in answers} == {200}
    assert "nothing to compare it with" in words_of(answers[0])


def test_the_second_to_save_sees_both_and_publishes_both(cast: Cast, fuel_pump, visit) -> None:
    """One changes the coil's wire, the other the feed's, both from revision 1."""
    first, second = visit(cast.owner), visit(cast.technician)
    form = second.get(REVISE)
    assert form.context["form"]["base"].value() == 1
    first.post(REVISE, sent(*COIL_WIRE, base=1, note="Coil feed."))
    refused = second.post(REVISE, sent(*POOR_JOINTS, base=1, note="Pump feed."))

    words = words_of(refused)
    assert refused.status_code == 409
    assert Circuit.objects.get().revisions.count() == 2
    assert "revision 2 came in between" in words
    assert "joints 61 mOhm" in words
    both = refused.context["form"]
    again = {
        "text": both["text"].value(),
        "note": both["note"].value(),
        "redrawn": "own",
        "base": both["base"].value(),
    }
    published = second.post(REVISE, again)
    text = first.get(reverse("circuits:text", args=["fuel-pump"])).content.decode()
    assert published.status_code == 302
    assert COIL_WIRE[1] in text
    assert POOR_JOINTS[1] in text
    assert Circuit.objects.get().revisions.get(number=3).note == "Pump feed."


def test_what_both_changed_is_laid_out_and_left_to_the_second(cast: Cast, fuel_pump, visit) -> None:
    old = POOR_JOINTS[0]
    visit(cast.owner).post(REVISE, sent(old, "3.1 m, joints 4 mOhm", base=1))
    refused = visit(cast.technician).post(REVISE, sent(old, "3.1 m, joints 9 mOhm", base=1))

    words = words_of(refused)
    assert "1 entry was changed by both" in words
    assert "joints 9 mOhm" in refused.context["form"]["text"].value()
    assert "joints 4 mOhm" in words


def test_a_text_from_elsewhere_is_shown_against_what_is_there(cast: Cast, fuel_pump, visit) -> None:
    address = reverse("circuits:import")
    refused = visit(cast.technician).post(address, sent(*POOR_JOINTS, base=""))

    assert refused.status_code == 409
    assert "this circuit is here already" in words_of(refused)
    assert Circuit.objects.get().revisions.count() == 1


def test_the_shop_is_led_from_home_to_the_verdict_that_changes(
    cast: Cast, fuel_pump, visit
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    run_jobs()
    technician, outsider = visit(cast.technician), visit(cast.outsider)
    listed = words_of(technician.get(reverse("cases:rejudged")))
    case_page = words_of(technician.get(reverse("cases:case", args=[case.pk])))

    assert "1 verdict of your shop would change" in words_of(technician.get("/"))
    for page in (listed, case_page):
        assert "was 'does not fit' and would be 'fits'" in page
        assert "Measured again." in page
    assert "would change" not in words_of(outsider.get("/"))
    assert case.key not in words_of(outsider.get(reverse("cases:rejudged")))

    pk = case.rejudgements.get().pk
    done = technician.post(reverse("cases:take-over", args=[pk]), follow=True)
    assert "is judged with revision 2 now" in words_of(done)
    late = technician.post(reverse("cases:leave", args=[pk]), follow=True)
    assert "settled already" in words_of(late)
    settled = technician.get(reverse("cases:rejudged"), {"show": "settled"})
    assert "taken over" in words_of(settled)


HELD_UP = "No worker has been seen on this server for a minute."


def test_a_case_that_waits_to_be_judged_once_more_says_so_and_whether_anybody_is_there_to_do_it(
    cast: Cast, fuel_pump, visit
) -> None:
    case = logged(cast, fuel_pump, FEED_READINGS, claim=FEED_FAULT)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    technician = visit(cast.technician)

    def pages() -> tuple[str, str]:
        addresses = (reverse("cases:case", args=[case.pk]), reverse("cases:rejudged"))
        one, other = (words_of(technician.get(address)) for address in addresses)
        return one, other

    a_worker_was_seen(seconds_ago=3600)
    held_up = pages()
    a_worker_was_seen(seconds_ago=5)
    on_its_way = pages()
    run_jobs()
    done = pages()

    for page in held_up:
        assert HELD_UP in page
    for page in on_its_way:
        assert HELD_UP not in page
        assert "being judged once more in the background" in page
    for page in done:
        assert "judged once more in the background" not in page


def test_a_case_of_another_circuit_does_not_wait(cast: Cast, fuel_pump, visit) -> None:
    horn = publish("horn.txt", by=cast.technician)
    redrawn(fuel_pump, POOR_JOINTS, by=cast.trainer)
    case = logged(cast, horn)
    page = words_of(visit(cast.technician).get(reverse("cases:case", args=[case.pk])))

    assert HELD_UP not in page
    assert "judged once more" not in page


def test_ticks_and_a_confirmation_from_the_page_are_kept(cast: Cast, fuel_pump, visit) -> None:
    page = reverse("circuits:circuit", args=["fuel-pump"])
    technician, owner = visit(cast.technician), visit(cast.owner)
    technician.post(reverse("circuits:checked", args=["fuel-pump"]), {"pin": ["PP", "PN"]})
    owner.post(reverse("circuits:checked", args=["fuel-pump"]), {"pin": ["PP"]})
    technician.post(reverse("circuits:checked", args=["fuel-pump"]), {"pin": ["PN"]})
    ticked = {
        line.connection.node: [check.checked_by.username for check in line.current]
        for line in technician.get(page).context["pins"]
        if line.current
    }
    vin = {"make": "Tolvane", "model": "Juniver", "note": "1G4AH59H45G118341"}
    confirm = reverse("circuits:confirm", args=["fuel-pump"])
    refused = technician.post(confirm, vin)
    technician.post(confirm, {**vin, "note": "pins of C40", "year": "2016"})

    assert ticked == {"PP": ["odile"], "PN": ["tarn"]}
    assert refused.status_code == 422
    assert "leave the VIN out" in words_of(refused)
    assert "Tolvane Juniver 2016: revision 1" in words_of(owner.get(page))


def test_a_claim_on_a_shared_part_shows_the_complaints_on_the_other_sheet(
    cast: Cast, fuel_pump, visit
) -> None:
    publish("horn.txt", by=cast.technician)
    case = logged(cast, fuel_pump, FEED_READINGS, claim="resistance:Wg")
    client = visit(cast.technician)
    circuit = words_of(client.get(reverse("circuits:circuit", args=["fuel-pump"])))
    page = words_of(client.get(reverse("cases:case", args=[case.pk])))

    assert "Also on Two horns behind a relay" in circuit
    assert "On other sheets of this vehicle" in page
    assert "becomes nothing" in page
