"""Serve the program to this machine alone."""

import socket
from collections.abc import Callable
from typing import Any

from django.core.wsgi import get_wsgi_application
from gunicorn.app.base import BaseApplication

LOOPBACK = "127.0.0.1"
HIGHEST_PORT = 65535


def listen_on_loopback(first_port: int, *, or_later: bool) -> socket.socket:
    """Return a listening socket on `first_port`, or on the next free port if `or_later`.

    Raises
    ------
    OSError
        The port, or every port from there on, is taken or not for us.
    """
    for port in range(first_port, HIGHEST_PORT + 1):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((LOOPBACK, port))
            listener.listen()
        except OSError:
            listener.close()
            if not or_later or port == HIGHEST_PORT:
                raise
        else:
            return listener
    raise OSError(f"There is no port {first_port}; ports end at {HIGHEST_PORT}.")


class LoopbackServer(BaseApplication):
    """Gunicorn with one process of eight threads, on a socket that listens already."""

    def __init__(
        self,
        listener: socket.socket,
        *,
        when_ready: Callable[[], None],
        when_stopped: Callable[[], None],
    ) -> None:
        self._settings: dict[str, Any] = {
            "bind": f"fd://{listener.fileno()}",
            "worker_class": "gthread",
            "threads": 8,
            "preload_app": True,
            "loglevel": "warning",
            "control_socket_disable": True,  # it would lie in the person's home
            "when_ready": lambda _: when_ready(),
            "on_exit": lambda _: when_stopped(),
        }
        super().__init__()

    def load_config(self) -> None:
        """Hand our settings over."""
        for name, value in self._settings.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        """Return the program."""
        return get_wsgi_application()
