"""Issue, list and revoke API tokens from the shell of the server."""

from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from api.models import LONGEST_NAME, ApiToken
from api.tokens import DEFAULT_DAYS, LONGEST_DAYS, issue_token, revoke_token

BAD_INPUT = 2


class Command(BaseCommand):
    """`manage.py token issue mara --name 'night job'`, `token list mara`, `token revoke KEY`."""

    help = "Issue, list or revoke the tokens with which a program signs in for a person."

    def add_arguments(self, parser: ArgumentParser) -> None:
        deeds = parser.add_subparsers(dest="deed", required=True)
        issue = deeds.add_parser("issue", help="print a new token; it is shown this once")
        issue.add_argument("username")
        issue.add_argument("--name", required=True, help="what the token is for")
        issue.add_argument("--days", type=int, default=DEFAULT_DAYS, help="how long it lasts")
        issue.add_argument("--reads-only", action="store_true", help="it may change nothing")
        listing = deeds.add_parser("list", help="list the tokens of a person")
        listing.add_argument("username")
        revoke = deeds.add_parser("revoke", help="make a token worthless")
        revoke.add_argument("key_id", help="the middle part of the token")

    def handle(self, *args: Any, deed: str, **options: Any) -> None:
        match deed:
            case "issue":
                self.issue(
                    _person(options["username"]),
                    options["name"].strip(),
                    options["days"],
                    reads_only=options["reads_only"],
                )
            case "list":
                self.list(_person(options["username"]))
            case "revoke":
                self.revoke(options["key_id"])

    def issue(self, person: User, name: str, days: int, *, reads_only: bool) -> None:
        """Print a new token on a line of its own, so that a script can take it."""
        if not 1 <= len(name) <= LONGEST_NAME:
            raise CommandError(
                f"--name must have 1 to {LONGEST_NAME} characters.", returncode=BAD_INPUT
            )
        if not 1 <= days <= LONGEST_DAYS:
            raise CommandError(f"--days must be 1 to {LONGEST_DAYS}.", returncode=BAD_INPUT)
        _, text = issue_token(
            by=person, name=name, days=days, reads_only=reads_only, at=timezone.now()
        )
        self.stdout.write(text)

    def list(self, person: User) -> None:
        """Print one token to a line."""
        now = timezone.now()
        for token in ApiToken.objects.filter(user=person).select_related("user"):
            state = token.refusal_at(now) or f"good until {token.expires_at:%d %B %Y}"
            reads = "  reads only" if token.reads_only else ""
            self.stdout.write(f"{token.key_id}  {token.name}  {state}{reads}")

    def revoke(self, key_id: str) -> None:
        """Revoke the token, or say that there is none."""
        token = ApiToken.objects.filter(key_id=key_id).first()
        if token is None:
            raise CommandError(
                f"There is no token {key_id}; `token list` shows them.", returncode=BAD_INPUT
            )
        revoke_token(token=token, at=timezone.now())
        self.stdout.write(f"{token} is revoked.")


def _person(username: str) -> User:
    try:
        return User.objects.get(username=username)
    except User.DoesNotExist:
        raise CommandError(f"There is nobody called {username}.", returncode=BAD_INPUT) from None
