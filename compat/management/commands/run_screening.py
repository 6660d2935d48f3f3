"""Work out what is missing of a screening; a web server starts this beside itself."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from compat.screening.background import work


class Command(BaseCommand):
    """Work a screening out to its end."""

    help = "Work out what is missing of a screening, by its row number."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the screening's row number."""
        parser.add_argument("screening", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        """Work it out."""
        work(options["screening"])
