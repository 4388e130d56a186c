"""`manage.py runserver`, kept to this machine while it shows debugging pages."""

from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.management.commands import runserver
from django.core.management import CommandError


class Command(runserver.Command):
    help = "Serve the program while you change it."

    def inner_run(self, *args: Any, **options: Any) -> None:
        """Refuse an address that others can reach, as long as errors show our insides."""
        address: str = vars(self)["addr"]  # set by Django, which does not declare it
        if settings.DEBUG and not is_loopback(address):
            raise CommandError(
                f"COPPERLOG_DEBUG is on, and others can reach {address}. Leave the address out,"
                " or unset COPPERLOG_DEBUG."
            )
        super().inner_run(*args, **options)


def is_loopback(host: str) -> bool:
    """Say whether only this machine reaches a server that listens on `host`."""
    try:
        return ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host == "localhost"
