"""``manage.py back_up``: one file with all data, taken while the site serves."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from compat.running.copies import CopyError, make_copy


class Command(BaseCommand):
    """Copy database, keys and files of the data folder into one file."""

    help = (
        "Copy everything into one file while the site serves. The file holds the installation's keys:"
        " keep it where only its keepers read it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the file to write."""
        parser.add_argument("file", type=Path, nargs="?", help="new file (default: a dated one in the data folder)")

    def handle(self, *args: Any, **options: Any) -> None:
        """Copy, and say what the copy holds."""
        now = timezone.now()
        target = options["file"] or Path(settings.DATA_DIR, "copies", f"berth-accord-{now:%Y%m%d-%H%M%S}.tar")
        try:
            copy = make_copy(target, now=now)
        except CopyError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"{copy.path}: the database, {len(copy.sha256_of) - 1} files, {copy.trail_rows} rows of the trail."
        )
        self.stdout.write("It holds the installation's keys; keep it where only its keepers read it.")
