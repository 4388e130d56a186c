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
STAMP = VENV / ".installed"  # fingerprints of the locks it holds; written last, so it is proof
LOCKED = HERE / ".venv.lock"  # held while installing; still says "building" if that was cut short
RUN_LOCK, TEST_LOCK = "requirements.lock", "requirements-test.lock"  # the second holds the first


def fingerprint(lock: str) -> str:
    """Return what STAMP says once `lock` is installed; a moved folder needs a new environment."""
    return hashlib.sha256((HERE / lock).read_bytes() + os.fsencode(VENV)).hexdigest()


def installed(lock: str) -> bool:
    """Say whether `.venv` holds all of `lock`."""
    return PYTHON.exists() and STAMP.exists() and fingerprint(lock) in STAMP.read_text().split()


def make_environment() -> None:
    """Make an empty `.venv`."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        sys.exit("This Python lacks its venv module. On Debian: apt-get install python3-venv")
    command = [sys.executable, "-m", "venv", str(VENV)]
    made = subprocess.run(command, capture_output=True, text=True)
    if made.returncode:
        sys.exit(f"{VENV} could not be made:\n{made.stdout}{made.stderr}")


def install_packages(lock: str) -> None:
    """Install `lock` into `.venv`, checking each file's hash, and show how far it has come."""
    total = (HERE / lock).read_text().count("==")
    # The lock is complete, so there is nothing to resolve (--no-deps).
    options = "--disable-pip-version-check --progress-bar off --no-compile --no-deps"
    command = [str(PYTHON), "-m", "pip", "install", *options.split(), "--require-hashes"]
    command += ["--only-binary=:all:", "-r", str(HERE / lock)]
    said: list[str] = []
    begun = 0
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as pip:
        for line in pip.stdout or ():
            said.append(line)
            begun += line.startswith(("Collecting", "Requirement already"))
            if sys.stdout.isatty() and line.strip():
                print(f"\r\033[K  {begun} of {total}: {line.strip()[:60]}", end="", flush=True)
    if sys.stdout.isatty():
        print("\r\033[K", end="", flush=True)
    if pip.returncode:
        end = "".join(said[-15:])
        sys.exit(f"{end}\nNot all packages were installed; pip says why above.")


def install(lock: str) -> None:
    """Bring `.venv` up to `lock`; what an interruption left half-built is built anew."""
    print(f"Installing {lock} into {VENV}; this can take a minute ...", flush=True)
    if LOCKED.read_text() and VENV.exists():
        shutil.rmtree(VENV)
    LOCKED.write_text("building")
    STAMP.unlink(missing_ok=True)
    if not PYTHON.exists():
        make_environment()
    install_packages(lock)
    held = [RUN_LOCK, TEST_LOCK] if lock == TEST_LOCK else [RUN_LOCK]
    STAMP.write_text("\n".join(fingerprint(name) for name in held))
    LOCKED.write_text("")


def enter_environment(lock: str) -> None:
    """Go on in `.venv`, with all of `lock` installed there."""
    if sys.version_info < (3, 11):
        sys.exit(f"Copperlog needs Python 3.11 or newer; this is {sys.version.split()[0]}.")
    if os.name == "nt":
        sys.exit("Copperlog runs on Linux and macOS. On Windows, start it inside WSL.")
    if os.environ.get("COPPERLOG_OWN_PYTHON"):
        return
    if not installed(lock):
        import fcntl  # not on Windows

        with LOCKED.open("a") as handle:
            fcntl.flock(handle, fcntl.LOCK_EX)  # of two first starts at once, one waits here
            if not installed(lock):
                install(lock)
    if Path(sys.prefix).resolve() != VENV.resolve():
        os.environ["COPPERLOG_OWN_PYTHON"] = "1"  # settled, for what we become and what it starts
        os.execv(PYTHON, [str(PYTHON), str(HERE / "manage.py"), *sys.argv[1:]])


def main() -> None:
    """Hand the command line to Django."""
    try:
        enter_environment(TEST_LOCK if sys.argv[1:2] == ["test"] else RUN_LOCK)
    except KeyboardInterrupt:
        sys.exit("\nInterrupted. The same command starts the installation over.")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
