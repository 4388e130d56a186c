"""`manage.py test`: everything that must hold before a change goes in."""

import os
import sys
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand

from api import checkup
from api.checkup import Outcome, Stage


class Command(BaseCommand):
    help = "Run lint, types, import contracts, the tests and the browser tests."
    requires_system_checks = ()  # a broken page is for the tests to tell

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Name the options."""
        parser.add_argument(
            "--long",
            action="store_true",
            help="also run the tests that take minutes, and the benchmarks",
        )

    def handle(self, *, long: bool, **options: Any) -> None:
        """Run every stage, say how each went, and leave with 1 if one failed."""
        os.chdir(settings.REPOSITORY)
        missing = self.bring_in_programs()
        outcomes = [self.run(stage, missing) for stage in checkup.stages(long=long)]
        if missing and in_ci():
            absent = Stage(name=" ".join(missing), command=())
            outcomes.append(Outcome(stage=absent, failed=True, reason="not installed"))
        self.sum_up(outcomes, missing)
        if any(outcome.failed for outcome in outcomes):
            sys.exit(1)

    def say(self, text: str) -> None:
        """Print at once, also into a pipe."""
        self.stdout.write(text, ending="")
        self.stdout.flush()

    def bring_in_programs(self) -> list[str]:
        """Install what the tests need from the system if we may; return what is still missing."""
        missing = checkup.missing_programs()
        if missing and checkup.may_install():
            self.say(f"Installing {' and '.join(missing)} for the tests, with apt-get ...\n")
            checkup.install(missing)
            missing = checkup.missing_programs()
        return missing

    def run(self, stage: Stage, missing: Sequence[str]) -> Outcome:
        """Run one stage and pass its output on, or say why it is not run."""
        self.say(f"\n--- {stage.name}\n")
        if stage.needs in missing:
            reason = f"{stage.needs} is not installed"
            self.say(f"not run: {reason}\n")
            return Outcome(stage=stage, reason=reason)
        environment = {"FORCE_COLOR": "1"} if self.stdout.isatty() else {}
        for piece in checkup.run(stage, environment=environment):
            if isinstance(piece, Outcome):
                return piece
            self.say(piece)
        raise AssertionError("a stage ended without an outcome")

    def sum_up(self, outcomes: Sequence[Outcome], missing: Sequence[str]) -> None:
        """Print a line for each stage and, last of all, how many tests passed and failed."""
        self.say("\n")
        for outcome in outcomes:
            word = "FAILED" if outcome.failed else "not run" if outcome.reason else "ok"
            self.say(f"{outcome.stage.name:18} {word:8} {outcome.seconds:6.1f} s\n")
        if missing:
            self.say(
                f"Tests that need {' or '.join(missing)} were not run. On Debian, as root:"
                f" {checkup.install_command(missing)}\n"
            )
        counts = sum((outcome.counts for outcome in outcomes), Counter[str]())
        # A stage that counts no tests of its own, or broke before it could, is one failure.
        failed = counts["failed"] + counts["error"]
        failed += sum(
            outcome.failed and not outcome.counts["failed"] + outcome.counts["error"]
            for outcome in outcomes
        )
        skipped = f", {counts['skipped']} skipped" if counts["skipped"] else ""
        self.say(f"{counts['passed']} passed, {failed} failed{skipped}\n")


def in_ci() -> bool:
    """Say whether nobody is there to install what is missing, so that it counts as a failure."""
    return os.environ.get("CI", "").lower() in ("1", "true")
