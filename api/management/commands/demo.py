"""`manage.py demo`: from nothing to a page with invented cases to look at."""

import signal
import subprocess
import sys
from argparse import ArgumentParser
from pathlib import Path
from types import FrameType
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management import BaseCommand, CommandError, call_command
from django.db import OperationalError, connection, connections

from api.database.sharing import running_cluster
from api.serving import LOOPBACK, LoopbackServer, listen_on_loopback
from cases import demo

FIRST_PORT = 8000
WORKER_SECONDS = 30
ONE_LOADER = 7_010_418  # the number of the database lock that lets one `demo` load at a time


class Command(BaseCommand):
    help = "Start the database, load invented shops and cases, and serve them to this machine."
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Name the options."""
        parser.add_argument(
            "--port",
            type=int,
            help=f"serve on this port and no other (default: the first free one from {FIRST_PORT})",
        )
        parser.add_argument(
            "--reset",
            action="store_true",
            help="throw away all that is in the database first, and load the demo anew",
        )

    def handle(self, *, port: int | None, reset: bool, **options: Any) -> None:
        """Bring the demo up and serve it until we are told to stop."""
        # Both set by hand: a script's background job is started with Ctrl-C ignored.
        for stop_signal in (signal.SIGTERM, signal.SIGINT):
            signal.signal(stop_signal, self.stop)
        try:
            if reset:
                self.reset_database()
            self.say("Starting the database ...")
            connection.ensure_connection()
            self.load_once_at_a_time()
        except OperationalError as error:
            raise CommandError(str(error)) from error
        connections.close_all()  # the serving process opens its own
        self.serve(port)

    def say(self, text: str) -> None:
        """Print a line at once, also into a pipe."""
        self.stdout.write(text)
        self.stdout.flush()

    def stop(self, number: int, frame: FrameType | None) -> None:
        """Leave the orderly way, so that the database is stopped as well."""
        sys.exit(0)

    def reset_database(self) -> None:
        """Throw the database away, after asking if somebody is there to answer."""
        folder = settings.DATABASES["default"].get("EMBEDDED_FOLDER")
        if folder is None:
            raise CommandError(
                "--reset is for the database that Copperlog starts itself. To empty the one that"
                " DATABASE_URL names, use its own tools."
            )
        cluster = running_cluster(Path(folder))
        if sys.stdin.isatty():
            answer = input(f"This deletes every case in {cluster.base}. Type 'yes' to go on: ")
            if answer.strip() != "yes":
                raise CommandError("Nothing was deleted.")
        cluster.recreate_database()

    def load_once_at_a_time(self) -> None:
        """Bring the tables up to date and load what is missing of the demo."""
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [ONE_LOADER])
            if cursor.fetchone() != (True,):
                self.say("Another start is loading the demo; waiting for it ...")
                cursor.execute("SELECT pg_advisory_lock(%s)", [ONE_LOADER])
        self.say("Bringing the tables up to date ...")
        call_command("migrate", verbosity=0, interactive=False)
        self.refuse_people_of_their_own()
        self.say("Loading what is missing of the demo ...")
        demo.load(progress=lambda line: self.say(f"  {line}"))
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [ONE_LOADER])

    def refuse_people_of_their_own(self) -> None:
        """Keep sign-ins whose password anybody can read out of a shop's own server."""
        if settings.DATABASE_URL:
            invented = [person.username for person in demo.sign_ins()]
            if User.objects.exclude(username__in=invented).exists():
                raise CommandError(
                    "The database that DATABASE_URL names has people of its own. The demo would"
                    " add sign-ins whose password is public: give it a database for itself."
                )

    def serve(self, port: int | None) -> None:
        """Serve until we are told to stop."""
        try:
            listener = listen_on_loopback(port or FIRST_PORT, or_later=port is None)
        except (OSError, OverflowError) as error:
            raise CommandError(
                f"Port {port} cannot be used ({error}). Try another, or leave --port out."
            ) from error
        address = f"http://{LOOPBACK}:{listener.getsockname()[1]}/"
        worker = start_worker()
        LoopbackServer(
            listener,
            when_ready=lambda: self.show_way_in(address),
            when_stopped=lambda: stop_worker(worker),
        ).run()

    def show_way_in(self, address: str) -> None:
        """Print the address and who can sign in."""
        people = demo.sign_ins()
        width = max(len(person.username) for person in people)
        self.say(f"\nCopperlog is at {address}\n\nSign in with the password {demo.DEMO_PASSWORD}:")
        for person in people:
            self.say(f"  {person.username:{width}}  {person.name}, {person.role}, {person.shop}")
        self.say("\nCtrl-C stops it.")


def start_worker() -> subprocess.Popen[bytes]:
    """Start the process that does the background work; it ends with us, however we end."""
    command = [sys.executable, str(settings.REPOSITORY / "manage.py"), "work", "--with-parent"]
    return subprocess.Popen(command, stdin=subprocess.PIPE)


def stop_worker(worker: subprocess.Popen[bytes]) -> None:
    """Let the worker finish the job in its hand, and wait until it has left the database."""
    worker.terminate()
    try:
        worker.wait(WORKER_SECONDS)
    except subprocess.TimeoutExpired:
        worker.kill()
        worker.wait()
