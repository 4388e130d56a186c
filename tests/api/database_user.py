"""A program that uses the embedded database until its standard input closes; run by the tests.

It prints one line of JSON: where the server is and who it runs as, or what went wrong. It may
first give up root's rights for those of an ordinary user: everything it needs is imported by then,
so that it does not matter whether that user could reach the interpreter's own folders.
"""

import argparse
import json
import os
import pwd
import sys
from pathlib import Path

import psycopg
from psycopg.conninfo import make_conninfo

from api.database import sharing, tenancy
from api.database.errors import DatabaseTrouble


def give_up_root(name: str) -> None:
    account = pwd.getpwnam(name)
    os.setgroups([])
    os.setgid(account.pw_gid)
    os.setuid(account.pw_uid)


def about(folder: Path) -> dict[str, object]:
    cluster = sharing.running_cluster(folder)
    address = cluster.connection_parameters()
    with psycopg.connect(make_conninfo("", dbname="copperlog", **address)) as connection:
        query = """SELECT current_setting('is_superuser'), datlocprovider::text, datlocale
                   FROM pg_database WHERE datname = 'copperlog'"""
        [(superuser, provider, locale)] = connection.execute(query).fetchall()
        # one at a time: two that find no table both try to make it, IF NOT EXISTS or not
        connection.execute("SELECT pg_advisory_xact_lock(1)")
        count = "CREATE TABLE IF NOT EXISTS visit (at timestamptz DEFAULT now())"
        connection.execute(count)
        connection.execute("INSERT INTO visit DEFAULT VALUES")
        [(visits,)] = connection.execute("SELECT count(*) FROM visit").fetchall()
    return {
        "address": address,
        "server": int((cluster.tenancy.data / "postmaster.pid").read_text().split()[0]),
        "data": str(cluster.tenancy.data),
        "superuser": superuser == "on",
        "locale": f"{provider} {locale}",
        "visits": visits,
    }


def main() -> None:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--user")
    arguments.add_argument("--binaries", type=Path)
    arguments.add_argument("--system-folder", type=Path)
    arguments.add_argument("--start-only", action="store_true")
    arguments.add_argument("--umask", type=lambda text: int(text, 8), default=0o022)
    given = arguments.parse_args()
    os.umask(given.umask)
    if given.binaries:
        tenancy.wheel_binaries = lambda: given.binaries
    if given.system_folder:
        tenancy.SYSTEM_FOLDER = given.system_folder
    if given.user:
        give_up_root(given.user)
    try:
        if given.start_only:
            sharing.running_cluster(given.folder)
            return
        answer = about(given.folder)
    except DatabaseTrouble as trouble:
        answer = {"trouble": str(trouble)}
    print(json.dumps(answer), flush=True)
    for line in sys.stdin:  # a line asks once more, the end of input says goodbye
        if line.strip() == "leave in a child":
            leave_in_a_child(given.folder)
        print(json.dumps(about(given.folder)), flush=True)


def leave_in_a_child(folder: Path) -> None:
    """Fork a process that uses the database for itself and exits; ours must go on."""
    child = os.fork()
    if child == 0:
        about(folder)
        sharing.leave(folder)
        os._exit(0)
    assert os.waitpid(child, 0)[1] == 0


if __name__ == "__main__":
    main()
