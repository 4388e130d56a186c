"""One PostgreSQL server on a folder of ours: made, started, found running, stopped.

How a running server is known: it inherits a locked descriptor of `server.lock`, and so do all
its children. The kernel drops that lock when the last of them is gone, however they went, and
keeps it while one lives. Nothing else is trusted: not `postmaster.pid` (it survives a crash and
may name a stranger), not a socket file (likewise).
"""

import contextlib
import os
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
from psycopg import sql
from psycopg.conninfo import make_conninfo

from api.database import locks
from api.database.errors import CannotStart, CannotStop
from api.database.tenancy import PASSABLE, make_folder, name_of, settle

MAJOR = 18  # part of the folder's name: a server never opens the files of another major version
SUPERUSER = "keeper"  # used by this module alone; Copperlog itself signs in with fewer rights
ROLE = DATABASE = "copperlog"
PORT = 5432  # only a part of the socket's file name: no TCP port is opened
SOCKET_NAME = f".s.PGSQL.{PORT}"
LONGEST_SOCKET_PATH = 103  # bytes; macOS allows no more, Linux 107
START_SECONDS = STOP_SECONDS = 60.0
LOST_SOCKET_SECONDS = 5.0
BIGGEST_LOG_BYTES = 10_000_000


class Cluster:
    """The server whose files are kept in `folder`/pg18.

    `start` may be called by many processes at once: one starts the server, all return when it
    answers. `stop` is for the caller who knows that nobody else uses it (`sharing` does).
    """

    def __init__(self, folder: Path) -> None:
        self.base = folder.resolve() / f"pg{MAJOR}"
        self._make_base()
        self._server: subprocess.Popen[bytes] | None = None
        self._sockets: Path | None = None
        with self._one_at_a_time():
            self.tenancy = settle(self.base)

    @property
    def log(self) -> Path:
        """The server's own log."""
        return self.base / "server.log"

    def start(self) -> None:
        """Return when the server answers and the database of Copperlog is there.

        Raises
        ------
        CannotStart
            The server did not come up; the message ends with the last lines of its log.
        """
        with self._one_at_a_time():
            if not self.tenancy.data.exists():
                self._initialise()
            self._sockets = self._socket_folder()
            if not self._find_running(self._sockets):
                self._launch(self._sockets)
            self._prepare_database()

    def stop(self) -> None:
        """Shut the server down and return when the last of its processes is gone."""
        with self._one_at_a_time():
            self._stop()

    def is_running(self) -> bool:
        """Say whether any process of the server lives."""
        return locks.is_held(self._server_lock)

    def is_dying(self) -> bool:
        """Say whether the server's main process was killed and others live on for a moment."""
        if not self.is_running():
            return False
        if self._server is not None and self._server.poll() is not None:
            return True
        try:
            os.kill(self._main_process(), 0)
        except ProcessLookupError:
            return True
        except (OSError, ValueError):
            return False  # it cannot be told: no file, or a process of somebody else
        return False

    def _main_process(self) -> int:
        return int((self.tenancy.data / "postmaster.pid").read_text().split("\n", 1)[0])

    def connection_parameters(self) -> dict[str, str]:
        """Return what Copperlog connects with: the role that owns its database, no superuser."""
        if self._sockets is None:
            raise CannotStart("The database was asked for an address before it was started.")
        password = self._password(ROLE)
        return {"host": str(self._sockets), "port": str(PORT), "user": ROLE, "password": password}

    @property
    def _server_lock(self) -> Path:
        return self.base / "server.lock"

    def _one_at_a_time(self) -> contextlib.AbstractContextManager[None]:
        return locks.alone(self.base / "start.lock")

    def _make_base(self) -> None:
        # Root's system user passes through here. Everything inside that matters is closed.
        try:
            make_folder(self.base, mode=PASSABLE if os.geteuid() == 0 else 0o700)
            owner = self.base.stat().st_uid
        except OSError as error:
            raise CannotStart(
                f"The data folder {self.base} cannot be made ({error.strerror})."
                " Set COPPERLOG_DATA to a folder that you may write to."
            ) from error
        if owner != os.geteuid():
            raise CannotStart(
                f"The database in {self.base} belongs to {name_of(owner)}. Start Copperlog as that"
                " user, or set COPPERLOG_DATA to another folder."
            )

    def _initialise(self) -> None:
        """Make the data directory beside its place and move it there when it is whole."""
        fresh = self.tenancy.home / "data.new"
        if fresh.exists():  # an earlier start was interrupted here
            shutil.rmtree(fresh)
        self.tenancy.make_private(fresh)
        with self._password_for_initdb() as password_file:
            options = (
                f"--pgdata={fresh}",
                f"--username={SUPERUSER}",
                f"--pwfile={password_file}",
                "--auth=scram-sha-256",
                "--encoding=UTF8",
                # The same sort order on every machine, whatever locales it has.
                "--locale=C",
                "--locale-provider=builtin",
                "--builtin-locale=C.UTF-8",
                "--no-instructions",
            )
            made = subprocess.run(
                [str(self.tenancy.binaries / "initdb"), *options],
                capture_output=True,
                text=True,
                check=False,
                **self.tenancy.process_options(),
            )
        if made.returncode:
            raise CannotStart(f"The database could not be made in {fresh}: {made.stderr.strip()}")
        fresh.rename(self.tenancy.data)

    @contextlib.contextmanager
    def _password_for_initdb(self) -> Iterator[str]:
        with tempfile.NamedTemporaryFile("w", dir=self.tenancy.home, prefix="once-") as file:
            file.write(self._password(SUPERUSER))
            file.flush()
            self.tenancy.give(Path(file.name))
            yield file.name

    def _password(self, role: str) -> str:
        """Return the role's password, drawn on first use and kept where only we can read it."""
        path = self.base / f"{role}.password"
        if not path.exists():
            descriptor, fresh = tempfile.mkstemp(dir=self.base)
            with os.fdopen(descriptor, "w") as file:
                file.write(secrets.token_urlsafe(24))
            os.rename(fresh, path)
        return path.read_text()

    def _socket_folder(self) -> Path:
        """Return the folder of the server's socket, private to its user.

        Where the data folder cannot hold a socket (see `holds_socket`), the socket's lies under the
        system's temporary folder, where anybody can make folders: its name is drawn at random,
        noted, and used again only while it is what we made.
        """
        beside = self.tenancy.home / "run"
        if holds_socket(beside):
            self.tenancy.make_private(beside)
            return beside
        note = self.base / "socket-folder"
        if note.exists():
            noted, made_for = note.read_text().split("\n", 1)
            # A copy of the whole data folder carries the note along: it must draw its own.
            if made_for == str(self.base) and self.tenancy.is_private(Path(noted)):
                return Path(noted)
        drawn = Path(tempfile.mkdtemp(prefix="copperlog-"))
        if not holds_socket(drawn):
            drawn.rmdir()
            drawn = Path(tempfile.mkdtemp(prefix="copperlog-", dir="/tmp"))
        self.tenancy.give(drawn)
        note.write_text(f"{drawn}\n{self.base}")
        return drawn

    def _find_running(self, sockets: Path) -> bool:
        """Return true once a server that already runs answers, false when there is none."""
        if not self.is_running():
            return False
        if self.is_dying():
            self._stop()  # returns when the others have noticed
            return False
        socket_file = sockets / SOCKET_NAME
        if not wait_until(socket_file.exists, LOST_SOCKET_SECONDS):
            # Something tidied the temporary folder: nobody can reach this server any more.
            self._stop()
            return False
        self._wait_until_it_answers()
        return True

    def _launch(self, sockets: Path) -> None:
        for left_behind in (
            self.tenancy.data / "postmaster.pid",
            sockets / SOCKET_NAME,
            sockets / f"{SOCKET_NAME}.lock",
        ):
            left_behind.unlink(missing_ok=True)
        settings = {
            "listen_addresses": "",
            # A list: quoted, so that whatever stands in the path stays part of it.
            "unix_socket_directories": '"{}"'.format(str(sockets).replace('"', '""')),
            "unix_socket_permissions": "0700",
            "port": str(PORT),
            "max_connections": "60",
            "logging_collector": "off",
            "log_timezone": "UTC",
            "timezone": "UTC",
        }
        command = [str(self.tenancy.binaries / "postgres"), "-D", str(self.tenancy.data)]
        for name, value in settings.items():
            command += ["-c", f"{name}={value}"]
        descriptor = locks.open_lock(self._server_lock)
        try:
            locks.take_lock(descriptor)
            with self._open_log() as log:
                self._server = subprocess.Popen(
                    command,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=log,
                    start_new_session=True,  # Ctrl-C is for us; we stop the server in our turn
                    pass_fds=(descriptor,),
                    **self.tenancy.process_options(),
                )
        finally:
            os.close(descriptor)  # the server's copy keeps the lock
        self._wait_until_it_answers()

    @contextlib.contextmanager
    def _open_log(self) -> Iterator[int]:
        if self.log.exists() and self.log.stat().st_size > BIGGEST_LOG_BYTES:
            self.log.replace(self.log.with_suffix(".log.1"))
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC | os.O_NOFOLLOW
        descriptor = os.open(self.log, flags, 0o600)
        try:
            yield descriptor
        finally:
            os.close(descriptor)

    def _wait_until_it_answers(self) -> None:
        started, said_so = time.monotonic(), False
        while (waited := time.monotonic() - started) < START_SECONDS:
            try:
                self._connect_as_superuser().close()
            except psycopg.OperationalError as error:
                last_error = error
            else:
                return
            if not self.is_running():
                raise CannotStart(f"PostgreSQL did not start.{self._end_of_log()}")
            if waited > 3 and not said_so:
                print("PostgreSQL is still starting, perhaps recovering ...", file=sys.stderr)
                said_so = True
            time.sleep(0.03)
        raise CannotStart(
            f"PostgreSQL runs but did not answer within {START_SECONDS:.0f} s:"
            f" {last_error}{self._end_of_log()}"
        )

    def _end_of_log(self) -> str:
        lines = self.log.read_text(errors="replace").splitlines() if self.log.exists() else []
        return "\n".join([f" The last lines of {self.log}:", *lines[-6:]])

    def _connect_as_superuser(self) -> psycopg.Connection:
        return psycopg.connect(
            host=str(self._sockets),
            port=PORT,
            user=SUPERUSER,
            password=self._password(SUPERUSER),
            dbname="postgres",
            connect_timeout=3,
            autocommit=True,
        )

    def _prepare_database(self) -> None:
        """Make Copperlog's role and database, or see that they are there and open to us."""
        parameters = self.connection_parameters()
        with contextlib.suppress(psycopg.OperationalError):
            psycopg.connect(make_conninfo("", dbname=DATABASE, **parameters)).close()
            return
        role, database = sql.Identifier(ROLE), sql.Identifier(DATABASE)
        password = sql.Literal(parameters["password"])
        with self._connect_as_superuser() as connection:
            known = connection.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [ROLE])
            verb = sql.SQL("ALTER" if known.fetchone() else "CREATE")
            connection.execute(
                sql.SQL("{} ROLE {} LOGIN CREATEDB PASSWORD {}").format(verb, role, password)
            )
            made = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [DATABASE])
            if not made.fetchone():
                connection.execute(sql.SQL("CREATE DATABASE {} OWNER {}").format(database, role))

    def recreate_database(self) -> None:
        """Throw away all that Copperlog stored, whoever is connected, and begin with nothing."""
        with self._one_at_a_time():
            with self._connect_as_superuser() as connection:
                drop = sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)")
                connection.execute(drop.format(sql.Identifier(DATABASE)))
            self._prepare_database()

    def _stop(self) -> None:
        if not self.is_running():
            return
        # Where its main process is gone already, the others follow when they notice.
        with contextlib.suppress(OSError, ValueError):
            os.kill(self._main_process(), signal.SIGINT)  # PostgreSQL's "fast" way down
        if not wait_until(lambda: not self.is_running(), STOP_SECONDS):
            raise CannotStop(
                f"PostgreSQL was told to stop and still runs after {STOP_SECONDS:.0f} s."
                f"{self._end_of_log()}"
            )
        if self._server is not None:
            self._server.wait()
            self._server = None


def holds_socket(folder: Path) -> bool:
    """Say whether a socket in `folder` can be named: to the kernel (length), to libpq (commas)."""
    return len(os.fsencode(folder / SOCKET_NAME)) <= LONGEST_SOCKET_PATH and "," not in str(folder)


def wait_until(condition: Callable[[], bool], seconds: float) -> bool:
    """Return true as soon as `condition` holds, false if it does not within `seconds`."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.02)
    return True
