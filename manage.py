#!/usr/bin/env python3
"""Run a Copperlog command. The first call on a fresh machine builds `.venv` and goes on inside it.

Only the standard library may be imported here: nothing else is installed yet. To use a Python
environment of your own (a container image, say), install requirements.lock there and set
COPPERLOG_OWN_PYTHON=1.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
PYTHON = VENV / "bin" / "python"
STAMP = (
    VENV / ".installed"
)  # the locks this environment holds; written last, so its presence is proof
LOCKED = HERE / ".venv.lock"  # held while installing; still says "building" after an interruption


def fingerprint(lock: str) -> str:
    """Return what STAMP says once `lock` is installed; a moved folder needs a new environment."""
    return hashlib.sha256((HERE / lock).read_bytes() + os.fsencode(VENV)).hexdigest()


def installed(lock: str) -> bool:
    """Say whether `.venv` holds all of `lock`."""
    return PYTHON.exists() and STAMP.exists() and fingerprint(lock) in STAMP.read_text().split()


def run_pip(lock: str) -> None:
    """Install `lock` into `.venv`, checking every file's hash, and show how far it has come."""
    total = (HERE / lock).read_text().count("==")
    pip = "-m pip install --disable-pip-version-check --progress-bar off --require-hashes"
    command = [str(PYTHON), *pip.split(), "--only-binary=:all:", "-r", str(HERE / lock)]
    print(f"Installing {lock} (about {total} packages) into {VENV} ...", flush=True)
    collected = 0
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as pip_run:
        for line in pip_run.stdout or ():
            collected += line.startswith(("Collecting", "Requirement already"))
            if sys.stdout.isatty() and line.strip():
                print(f"\r\033[K  {collected:3d}/{total} {line.strip()[:60]}", end="", flush=True)
    print("\r\033[K" if sys.stdout.isatty() else "", end="", flush=True)
    if pip_run.returncode:
        sys.exit(
            "The packages could not be installed: pip says why above. The same command tries again."
        )


def install(lock: str) -> None:
    """Bring `.venv` up to `lock`; an environment left half-built by an interruption is made anew."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        sys.exit(
            "This Python lacks its venv module. Debian and Ubuntu: apt-get install python3-venv"
        )
    if LOCKED.read_text() and VENV.exists():
        shutil.rmtree(VENV)
    LOCKED.write_text("building")
    STAMP.unlink(missing_ok=True)
    if not PYTHON.exists():
        made = subprocess.run(
            [sys.executable, "-m", "venv", str(VENV)], capture_output=True, text=True
        )
        if made.returncode:
            sys.exit(f"{VENV} could not be made:\n{made.stdout}{made.stderr}")
    run_pip(lock)
    held = ["requirements.lock", "requirements-test.lock"] if "test" in lock else [lock]
    STAMP.write_text("\n".join(map(fingerprint, held)))
    LOCKED.write_text("")


def enter_environment(command: str) -> None:
    """Make sure that `command` finds its packages, and go on in `.venv` if we are not in it yet."""
    if sys.version_info < (3, 11):
        sys.exit(f"Copperlog needs Python 3.11 or newer; this is {sys.version.split()[0]}.")
    if os.name == "nt":
        sys.exit(
            "Copperlog runs on Linux and macOS; on Windows start it in the Linux subsystem (WSL)."
        )
    if os.environ.get("COPPERLOG_OWN_PYTHON"):
        return
    lock = "requirements-test.lock" if command == "test" else "requirements.lock"
    if not installed(lock):
        import fcntl

        with LOCKED.open("a") as handle:
            fcntl.flock(handle, fcntl.LOCK_EX)  # two first starts at once: the second waits here
            if not installed(lock):
                install(lock)
    if Path(sys.prefix).resolve() != VENV.resolve():
        os.execv(PYTHON, [str(PYTHON), str(HERE / "manage.py"), *sys.argv[1:]])


if __name__ == "__main__":
    enter_environment(command=sys.argv[1] if len(sys.argv) > 1 else "help")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
