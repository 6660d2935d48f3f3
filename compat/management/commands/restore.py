"""``manage.py restore``: bring a copy back, then prove that every plan and the whole trail hold."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from compat.running.copies import CopyError, bring_back, make_copy, read_copy
from compat.running.proving import everything_wrong
from shared.models import Person


class Command(BaseCommand):
    """Replace all data by those of a copy; what is there now is copied first."""

    help = (
        "Bring a copy made by back_up back. Data that is here now is kept as a copy first, and needs --replace."
        " Afterwards all plans and the trail are verified; the exit status is 1 where something does not hold."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the copy, and leave to replace what is there."""
        parser.add_argument("file", type=Path, help="copy made by back_up")
        parser.add_argument("--replace", action="store_true", help="replace the data that is here now")

    def handle(self, *args: Any, **options: Any) -> None:
        """Check the copy, keep what is here, bring the copy back, verify."""
        try:
            copy = read_copy(options["file"])
            self._keep_what_is_here(replace=options["replace"])
            bring_back(copy)
        except CopyError as error:
            raise CommandError(str(error)) from error
        wrong = list(everything_wrong(rows=copy.trail_rows, head=copy.trail_sha256))
        for sentence in wrong:
            self.stderr.write(sentence)
        if wrong:
            raise CommandError(f"The copy of {copy.made_at} is back, and {len(wrong)} things in it do not hold.")
        self.stdout.write(
            f"The copy of {copy.made_at} is back: every plan and {copy.trail_rows} rows of the trail hold."
        )

    def _keep_what_is_here(self, *, replace: bool) -> None:
        if not _has_data():
            return
        if not replace:
            raise CommandError("There is data here already. To replace it, say so with --replace; it is copied first.")
        now = timezone.now()
        kept = make_copy(Path(settings.DATA_DIR, "copies", f"before-restore-{now:%Y%m%d-%H%M%S-%f}.tar"), now=now)
        self.stdout.write(f"What was here is kept in {kept.path}.")


def _has_data() -> bool:
    try:
        return Person.objects.exists()
    except DatabaseError:  # no table yet
        return False
