"""A case as a file, and a command run on it."""

import json
from io import StringIO
from pathlib import Path

from django.core.management import call_command

from tests.cast import FEED_FAULT, LIBRARY, facts


def case_file(folder: Path, **changes: object) -> Path:
    """Write a case file that names the circuit's file beside it."""
    readings = [
        {"number": number, "place": place, "phase": "prime", "text": text}
        for number, (place, text) in enumerate(
            (("TP1", "12.35"), ("TP2", "6.79"), ("TP3", "5.49"), ("TP4", "0.07")), start=1
        )
    ]
    data = {
        **facts().model_dump(mode="json"),
        "schema": "copperlog-case/1",
        "circuit": {"file": "pump.txt"},
        "readings": readings,
        "claim": {"suspect": FEED_FAULT},
        **changes,
    }
    (folder / "pump.txt").write_bytes((LIBRARY / "fuel_pump.txt").read_bytes())
    path = folder / "case.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def run(command: str, *words: object) -> tuple[int, str, str]:
    """Return exit status, output and complaints of a command."""
    out, err = StringIO(), StringIO()
    status = 0
    try:
        call_command(command, *map(str, words), stdout=out, stderr=err)
    except SystemExit as stop:
        status = int(stop.code or 0)
    return status, out.getvalue(), err.getvalue()
