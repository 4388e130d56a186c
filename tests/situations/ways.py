"""The three ways to ask what a case's readings allow, and what each of them said."""

import json
import re
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from cases.documents.verdicts import VerdictDocument
from cases.models import Case
from tests.api.rest import COMPLAINT, VEHICLE
from tests.cases.case_files import run
from tests.cast import facts
from tests.jobs import run_jobs
from tests.pages.words import words_of
from tests.situations.situation import CANNOT_SAY, DOES_NOT_FIT, FITS, Situation

STATUS = {FITS: 0, CANNOT_SAY: 1, DOES_NOT_FIT: 1}
PAGE_WORDS = {
    "fits the readings": FITS,
    "does not fit the readings": DOES_NOT_FIT,
    "the readings cannot say": CANNOT_SAY,
}


@dataclass(frozen=True)
class Told:
    """What one way said: the outcome, what fits beside the claim, and all of its words."""

    outcome: str
    fitting: frozenset[str]
    in_order: bool
    words: str


def command_on(situation: Situation, folder: Path) -> tuple[int, str, str]:
    """Return exit status, table and complaints of `manage.py verdict`."""
    data = {
        **facts(codes=()).model_dump(mode="json"),
        "schema": "copperlog-case/1",
        "circuit": {"text": situation.text},
        "readings": [{"number": at, **each} for at, each in enumerate(situation.readings, 1)],
        "claim": {"suspect": situation.claim},
    }
    path = folder / "case.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return run("verdict", path, "--pairs")


def by_command(situation: Situation, folder: Path) -> Told:
    """Ask `manage.py verdict`; what fits is told by id."""
    status, table, complaint = command_on(situation, folder)
    assert complaint == ""
    outcome = re.search(rf"^Claim {re.escape(situation.claim)}: (.*)\.$", table, re.M)
    assert outcome is not None
    assert status == STATUS[outcome[1]]
    listed = re.search(r"^These give the readings as well\n((?:  .*\n?)+)", table, re.M)
    fitting = [line.split()[0] for line in listed[1].splitlines()] if listed is not None else []
    return Told(
        outcome=outcome[1],
        fitting=frozenset(fitting),
        in_order="The circuit in order gives these readings too." in table,
        words=" ".join(table.split()),
    )


def sent_by_rest(situation: Situation, program: APIClient, circuit_key: str) -> Case:
    """Log the case over REST and let the worker do what waits."""
    made = program.post(
        "/api/cases/",
        {
            "shop": "kestrel",
            "vehicle": VEHICLE,
            "complaint": COMPLAINT,
            "circuit": circuit_key,
            "readings": list(situation.readings),
        },
    )
    assert made.status_code == 201, made.data
    claimed = program.put(f"{made['Location']}claim/", {"suspect": situation.claim})
    assert claimed.status_code == 200, claimed.data
    run_jobs()
    return Case.objects.get(pk=made["Location"].rstrip("/").rpartition("/")[2])


def by_rest(program: APIClient, case: Case) -> VerdictDocument:
    return VerdictDocument.model_validate(program.get(f"/api/cases/{case.pk}/").data["verdict"])


def by_page(client: Client, case: Case) -> Told:
    """Ask the page of the case; what fits is told in words."""
    answer: Any = client.get(reverse("cases:case", args=[case.pk]))
    words = words_of(answer)
    found = [outcome for said, outcome in PAGE_WORDS.items() if f": {said} ." in words]
    assert len(found) == 1, words
    return Told(
        outcome=found[0],
        fitting=frozenset(_rivals(answer)),
        in_order="The circuit in order would have shown these readings too." in words,
        words=words,
    )


def _rivals(answer: HttpResponse) -> list[str]:
    html = answer.content.decode()
    lists = re.findall(r'<ul class="rival-list">(.*?)</ul>', html, re.S)
    return [unescape(each) for one in lists for each in re.findall(r"<strong>(.*?)</strong>", one)]
