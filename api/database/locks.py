"""File locks that the kernel forgets when their holders die, however they die."""

import contextlib
import fcntl
import os
from collections.abc import Iterator
from pathlib import Path


def open_lock(path: Path) -> int:
    """Return a descriptor of the lock file at `path`, made on first use, readable by us alone."""
    return os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)


def try_lock(descriptor: int) -> bool:
    """Take the whole lock if nobody else holds any of it, without waiting."""
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def take_lock(descriptor: int) -> None:
    """Take the whole lock; waits while anybody else holds any of it."""
    fcntl.flock(descriptor, fcntl.LOCK_EX)


def share_lock(descriptor: int) -> None:
    """Hold the lock together with others; waits while somebody has it alone."""
    fcntl.flock(descriptor, fcntl.LOCK_SH)


@contextlib.contextmanager
def alone(path: Path) -> Iterator[None]:
    """Keep everybody else out of the block that guards itself with the same `path`."""
    descriptor = open_lock(path)
    try:
        take_lock(descriptor)
        yield
    finally:
        os.close(descriptor)


def is_held(path: Path) -> bool:
    """Say whether any living process holds the lock at `path`."""
    descriptor = open_lock(path)
    try:
        return not try_lock(descriptor)
    finally:
        os.close(descriptor)
