"""One server for all processes that use the same data folder; the last one out stops it.

Every process that uses the server holds a share of `users.lock`. A process that is killed loses
its share with everything else, so the next clean exit still stops the server.
"""

import atexit
import os
import sys
import threading
from pathlib import Path

from api.database import locks
from api.database.cluster import Cluster
from api.database.errors import DatabaseTrouble

_joined: dict[Path, tuple[Cluster, int]] = {}  # the cluster and our share of its users.lock
_joining = threading.Lock()


def running_cluster(folder: Path) -> Cluster:
    """Return the server of `folder`, started if it does not run, and kept for us until we exit."""
    with _joining:
        if folder not in _joined:
            cluster = Cluster(folder)
            share = locks.open_lock(cluster.base / "users.lock")
            try:
                locks.share_lock(share)  # waits while the last one out is stopping the server
                cluster.start()
            except BaseException:
                _leave(cluster, share)
                raise
            _joined[folder] = (cluster, share)
        cluster, _ = _joined[folder]
        if not cluster.is_running() or cluster.is_dying():  # it died under us
            cluster.start()
        return cluster


def leave(folder: Path) -> None:
    """Give up our share, and stop the server if nobody else holds one."""
    with _joining:
        _leave(*_joined.pop(folder))


def _leave(cluster: Cluster, share: int) -> None:
    try:
        if locks.try_lock(share):
            cluster.stop()
    finally:
        os.close(share)


@atexit.register
def _leave_all() -> None:
    for folder in list(_joined):
        try:
            leave(folder)
        except DatabaseTrouble as trouble:
            print(trouble, file=sys.stderr)


def _start_anew_in_child() -> None:
    """Forget the parent's shares after a fork: a child that uses the server takes its own."""
    global _joining
    _joining = threading.Lock()
    for _, share in _joined.values():
        os.close(share)
    _joined.clear()


os.register_at_fork(after_in_child=_start_anew_in_child)
