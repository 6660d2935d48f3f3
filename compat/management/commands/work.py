"""``manage.py work``: do jobs that wait at the broker, beside the site or on another machine."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shared.jobs import has_broker


class Command(BaseCommand):
    """Work on jobs until stopped."""

    help = (
        "Do the jobs that wait at the broker (BERTH_ACCORD_BROKER), until Ctrl-C. Start it on any machine that reaches"
        " broker and database."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take how many processes work, and after how long the job of a lost worker is another's."""
        parser.add_argument("--processes", type=count, default=1, help="how many jobs at a time (default: 1)")
        parser.add_argument(
            "--taken-over-after",
            type=count,
            default=60,
            metavar="SECONDS",
            help="a job that a worker has held for so long goes to another one (default: 60)",
        )

    def handle(self, *_: Any, **options: Any) -> None:
        """Work, or say that there is no broker."""
        if not has_broker():
            raise CommandError("No broker is named: set BERTH_ACCORD_BROKER, such as redis://127.0.0.1:6379/0.")
        from shared import broker  # noqa: PLC0415 - Celery is loaded only where a broker is named

        broker.serve(options["processes"], options["taken_over_after"])


def count(text: str) -> int:
    """Read a whole number from 1; argparse turns the ValueError into its own sentence."""
    number = int(text)
    if number < 1:
        raise ValueError(text)
    return number
