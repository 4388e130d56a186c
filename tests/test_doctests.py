"""The examples in docstrings hold, and what the engine hands out says what it is."""

import doctest
import importlib
import inspect
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

import circuits.engine

REPOSITORY = Path(__file__).resolve().parents[1]
APPS = ("api", "cases", "circuits")

#: A short session as in a notebook: no settings, no database, no framework.
SESSION = """
import sys
from circuits.engine import (
    Battery, Fault, Network, Place, Reading, Resistor, find_suspect, judge, predict, sweep)

lamp = Network(zero="minus", parts=(
    Battery(name="B1", first="plus", second="minus", open_circuit_volts=12.6, internal_ohms=0.001),
    Resistor(name="W1", first="plus", second="in", ohms=0.05),
    Resistor(name="H1", first="in", second="minus", ohms=6.0),
))
place = Place(key="lamp", red="in", black="minus")
wire = find_suspect(lamp, "resistance:W1")
fault = Fault(suspect=wire, severity=6.0)
print(round(predict(lamp, [place], fault=fault)["as drawn", "lamp"].value, 2))
print(sweep(lamp, [place], [None, fault]).values[:, 0, 0].round(2).tolist())
reading = Reading(place=place, phase="as drawn", value=6.27, step=0.01)
verdict = judge(lamp, [reading], claim="resistance:W1")
print(verdict.claim.outcome, round(verdict.claim.severity))
print(sorted({name.split(".")[0] for name in sys.modules} & {"django", "psycopg", "pydantic"}))
"""


def modules_with_examples() -> list[str]:
    files = (file for app in APPS for file in sorted((REPOSITORY / app).rglob("*.py")))
    return [
        ".".join(file.relative_to(REPOSITORY).with_suffix("").parts).removesuffix(".__init__")
        for file in files
        if ">>> " in file.read_text(encoding="utf-8")
    ]


@pytest.mark.parametrize("name", modules_with_examples())
def test_the_examples_of_a_module_hold(name: str) -> None:
    module: ModuleType = importlib.import_module(name)
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    for example in doctest.DocTestFinder().find(module, name):
        runner.run(example, out=said.append)

    assert runner.summarize(verbose=False).attempted > 0
    assert said == []


def test_everything_that_the_engine_hands_out_says_what_it_is() -> None:
    """A dataclass without a docstring gets its signature for one, which says nothing."""
    silent = [
        name
        for name in circuits.engine.__all__
        for thing in (getattr(circuits.engine, name),)
        if inspect.isclass(thing) or inspect.isfunction(thing)
        if not (thing.__doc__ or "").strip() or (thing.__doc__ or "").startswith(f"{name}(")
    ]

    assert silent == []


def test_the_engine_works_in_a_notebook_without_settings() -> None:
    """12.6 V over 0.001 + 0.05 + 6 + 6 Ohm leave the lamp 6.27 V, by hand; healthy 12.49 V."""
    answer = subprocess.run(
        [sys.executable, "-c", SESSION],
        cwd=REPOSITORY,
        env={"PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=True,
    )

    assert answer.stdout.splitlines() == ["6.27", "[12.49, 6.27]", "fits 6", "[]"]
