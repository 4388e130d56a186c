"""What a master would say of each situation is said by the command, over REST and on the page."""

from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from cases.circuit import circuit_from_sheet
from cases.models import LoggedReading
from circuits.services import import_text
from circuits.sheet import read_text
from tests.api.rest import program_of
from tests.cast import MONDAY, Cast, logged
from tests.pages.words import typed_reading, typed_rows, words_of
from tests.situations.situation import Situation
from tests.situations.table import BUS, SITUATIONS
from tests.situations.ways import by_command, by_page, by_rest, command_on, sent_by_rest

each_situation = pytest.mark.parametrize(
    "situation", SITUATIONS, ids=[each.fact.replace(" ", "-") for each in SITUATIONS]
)


def described(situation: Situation, names: tuple[str, ...]) -> set[str]:
    """Return faults of the situation's circuit in words."""
    suspects = circuit_from_sheet(read_text(situation.text)).suspects
    return {suspects[name].describe() for name in names}


@each_situation
def test_the_command_says(situation: Situation, tmp_path: Path) -> None:
    told = by_command(situation, tmp_path)

    assert told.outcome == situation.outcome
    assert told.in_order == situation.in_order or situation.outcome == "cannot say"
    assert set(situation.fits_too) <= told.fitting
    assert not told.fitting & set(situation.excluded)
    assert [words for words in situation.says if words not in told.words] == []


@each_situation
def test_rest_and_the_page_say(situation: Situation, cast: Cast) -> None:
    revision = import_text(situation.text, note="first drawing", by=cast.technician, at=MONDAY)
    program = program_of(cast.technician)
    client = Client()
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")
    case = sent_by_rest(situation, program, revision.circuit.key)

    verdict = by_rest(program, case)
    before = verdict.before
    assert before is not None
    fitting = {finding.suspect for finding in before.findings if finding.outcome == "fits"}
    assert verdict.outcome == situation.outcome
    assert not situation.in_order or before.healthy.outcome != "does not fit"
    assert set(situation.fits_too) <= fitting
    assert not fitting & set(situation.excluded)
    assert situation.shows(verdict)

    told = by_page(client, case)
    assert told.outcome == situation.outcome
    assert told.in_order == situation.in_order
    assert described(situation, situation.fits_too) <= told.fitting
    assert not told.fitting & described(situation, situation.excluded)
    assert [words for words in situation.says if words not in told.words] == []


# ----------------------------------------------------------------------- ohms on live parts

LIVE: dict[str, object] = {"place": "TP3", "phase": "off", "text": "360"}


def test_ohms_on_a_bus_that_talks_are_refused_over_rest_and_on_the_page(cast: Cast) -> None:
    """Refused with why, and nothing is logged; with the power removed the same place is taken."""
    revision = import_text(BUS, note="first drawing", by=cast.technician, at=MONDAY)
    case = logged(cast, revision)
    program = program_of(cast.technician)
    client = Client()
    client.force_login(cast.technician, backend="django.contrib.auth.backends.ModelBackend")

    refused = program.post(f"/api/cases/{case.pk}/readings/", {"readings": [LIVE]})
    page: Any = client.post(
        reverse("cases:add-readings", args=[case.pk]),
        typed_rows("readings", [typed_reading("TP3", "360", "off")]),
    )

    assert refused.status_code == 400
    assert "ohmmeter" in str(refused.data)
    assert "power removed" in str(refused.data)
    assert "power removed" in words_of(page)
    assert not LoggedReading.objects.filter(case=case).exists()
    taken = program.post(
        f"/api/cases/{case.pk}/readings/",
        {"readings": [{**LIVE, "text": "59.3", "rig": {"power_removed": True}}]},
    )
    assert taken.status_code == 201


def test_ohms_on_a_bus_that_talks_are_set_aside_by_the_command(tmp_path: Path) -> None:
    """A file stays as it was written; the line speaks for nobody, and there is nothing to judge."""
    situation = Situation(fact="", circuit=BUS, readings=(LIVE,), claim="resistance:RL", outcome="")
    status, table, complaint = command_on(situation, tmp_path)

    assert (status, table) == (2, "")
    assert "an ohmmeter shows ohms only where the power is removed" in complaint
