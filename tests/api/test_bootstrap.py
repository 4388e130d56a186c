"""`manage.py` on a machine that has Python and nothing else. Common practice, no source.

Each test gets a checkout of its own with the true `manage.py` and locks that name one small wheel
made here, so that no package index is asked. That wheel holds a stand-in for Django that tells
where it runs and with what.
"""

import hashlib
import json
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]
STAND_IN = """
import json, sys
try:
    import extra_for_tests
    extra = True
except ImportError:
    extra = False
def execute_from_command_line(argv):
    print(json.dumps({"prefix": sys.prefix, "argv": argv[1:], "extra": extra}))
"""


def make_wheel(folder: Path, name: str, modules: dict[str, str]) -> str:
    """Make a wheel (PyPA binary distribution format 1.0) and return its line for a lock."""
    information = f"{name}-1.0.dist-info"
    files = {
        **modules,
        f"{information}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n",
        f"{information}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{path},,\n" for path in files) + f"{information}/RECORD,,\n"
    wheel = folder / f"{name}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for path, text in {**files, f"{information}/RECORD": record}.items():
            archive.writestr(path, text)
    return f"{name}==1.0 --hash=sha256:{hashlib.sha256(wheel.read_bytes()).hexdigest()}\n"


class Checkout:
    def __init__(self, folder: Path, wheels: Path) -> None:
        self.folder = folder
        for made in (folder, wheels):
            made.mkdir()
        (folder / "manage.py").write_text((REPOSITORY / "manage.py").read_text())
        django = {
            "django/__init__.py": "",
            "django/core/__init__.py": "",
            "django/core/management/__init__.py": STAND_IN,
        }
        runs = f"--no-index\n--find-links {wheels}\n" + make_wheel(wheels, "standin", django)
        tests = runs + make_wheel(wheels, "extra", {"extra_for_tests.py": ""})
        (folder / "requirements.lock").write_text(runs)
        (folder / "requirements-test.lock").write_text(tests)

    @property
    def environment(self) -> Path:
        return self.folder / ".venv"

    def start(self, *arguments: str, program: tuple[str, ...] = ()) -> subprocess.Popen[str]:
        command = [sys.executable, *(program or (str(self.folder / "manage.py"),)), *arguments]
        clean = {k: v for k, v in os.environ.items() if not k.startswith(("COPPERLOG_", "PIP_"))}
        return subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd="/",
            env=clean,
        )

    def run(self, *arguments: str, program: tuple[str, ...] = ()) -> "Run":
        return Run(self.start(*arguments, program=program))


class Run:
    """A start that has ended: what it said, and what the stand-in told if it came so far."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.said, self.complained = process.communicate(timeout=300)
        self.failed = process.returncode != 0
        last_line = self.said.strip().rpartition("\n")[2]
        self.told = json.loads(last_line) if last_line.startswith("{") else {}

    @property
    def installed(self) -> bool:
        return "Installing" in self.said


@pytest.fixture
def checkout(tmp_path) -> Checkout:
    return Checkout(tmp_path / "a check out", tmp_path / "wheels")


@pytest.mark.slow
def test_an_environment_is_built_once_and_grows_with_what_is_asked_of_it(checkout) -> None:
    first = checkout.run("demo", "--port", "8010")
    second = checkout.run("migrate")
    for_tests = checkout.run("test")
    demo_again = checkout.run("demo")
    lock = checkout.folder / "requirements.lock"
    lock.write_text(lock.read_text() + "# changed\n")
    after_a_change = checkout.run("demo")

    assert first.installed
    assert first.told["prefix"] == str(checkout.environment)
    assert first.told["argv"] == ["demo", "--port", "8010"]
    assert not first.told["extra"]
    assert not second.installed
    assert second.told["argv"] == ["migrate"]
    assert for_tests.installed
    assert for_tests.told["extra"]
    assert not demo_again.installed
    assert after_a_change.installed


@pytest.mark.slow
def test_an_interrupted_installation_is_begun_anew(checkout) -> None:
    """pip takes a package for installed whose files were still being written."""
    half_written = checkout.environment / "lib" / "half"
    half_written.mkdir(parents=True)
    (checkout.folder / ".venv.lock").write_text("building")
    repaired = checkout.run("demo")

    assert repaired.told["prefix"] == str(checkout.environment)
    assert not half_written.exists()


@pytest.mark.slow
def test_of_two_first_starts_at_once_one_installs_and_both_run(checkout) -> None:
    runs = [Run(start) for start in [checkout.start("demo"), checkout.start("demo")]]

    assert [run.told["prefix"] for run in runs] == [str(checkout.environment)] * 2
    assert sorted(run.installed for run in runs) == [False, True]


@pytest.mark.slow
def test_a_package_that_is_not_the_locked_one_is_refused_and_leaves_nothing_trusted(
    checkout,
) -> None:
    lock = checkout.folder / "requirements.lock"
    lock.write_text(re.sub(r"sha256:\w+", "sha256:" + "0" * 64, lock.read_text()))
    run = checkout.run("demo")

    assert "do not match the hashes" in run.complained.lower()
    assert run.failed
    assert "pip says why above" in run.complained
    assert not (checkout.environment / ".installed").exists()


def pretend(statement: str, checkout: Checkout) -> Run:
    program = f"import sys; sys.path.insert(0, {str(checkout.folder)!r}); {statement}"
    return checkout.run(program=("-c", f"{program}; import manage; manage.main()"))


def test_a_python_without_its_venv_module_is_told_how_to_get_it(checkout) -> None:
    run = pretend("sys.modules['ensurepip'] = None", checkout)

    assert run.failed
    assert run.complained.splitlines()[-1].endswith("apt-get install python3-venv")


def test_an_older_python_is_told_which_one_is_needed(checkout) -> None:
    run = pretend("sys.version_info = (3, 10, 12)", checkout)

    assert run.failed
    assert run.complained.startswith("Copperlog needs Python 3.11 or newer; this is ")


def pins(lock: str) -> dict[str, str]:
    text = (REPOSITORY / lock).read_text()
    return {line.split("==")[0]: line for line in text.splitlines() if re.match(r"[a-z0-9]", line)}


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-test.lock"])
def test_a_lock_names_no_host_and_no_path_and_hashes_every_package(lock) -> None:
    text = (REPOSITORY / lock).read_text()
    entries = re.split(r"\n(?=[a-z0-9])", text)

    assert "://" not in text
    assert not re.search(r"(?<!\S)(/|file:|--index|--find)", text)
    assert all("==" in entry and "--hash=sha256:" in entry for entry in entries)


def test_the_tests_run_with_the_very_packages_that_the_program_runs_with() -> None:
    assert pins("requirements.lock").items() <= pins("requirements-test.lock").items()


@pytest.mark.parametrize("name", ["requirements", "requirements-test"])
def test_the_lock_holds_everything_that_is_asked_for(name) -> None:
    asked_for = re.findall(
        r"^([A-Za-z0-9][A-Za-z0-9-]*)", (REPOSITORY / f"{name}.in").read_text(), re.M
    )

    assert {package.lower() for package in asked_for} <= pins(f"{name}.lock").keys()
