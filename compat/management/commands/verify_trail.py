"""``manage.py verify_trail``: walk the whole trail, or an export of it, and say whether it holds."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shared.calc.errors import InputError
from shared.trail import clock_set_back, trail_head, verify_trail
from shared.trail_chain import ExtractCheck, check_extract
from shared.trail_files import read_rows


class Command(BaseCommand):
    """Print the last row's hash when the trail holds; name the first broken row when it does not."""

    help = (
        "Check the hash chain of the whole trail, or of an export, and that the trail still holds every row which"
        " signed plans name; the exit status is 1 when it does not. Rows dated by a clock that was set back are named."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take an export to check instead of this installation's own trail."""
        parser.add_argument("--file", type=Path, help="an export, as CSV or lines of JSON; it needs no database")

    def handle(self, *args: Any, **options: Any) -> None:
        """Verify, then say the outcome in sentences."""
        if options["file"]:
            self.stdout.write(_told(_checked(options["file"])))
            return
        for position, at, before in clock_set_back():
            self.stdout.write(
                f"Row {position} is dated {at:%Y-%m-%d %H:%M:%S} UTC, before the row it follows"
                f" ({before:%Y-%m-%d %H:%M:%S} UTC): the clock was set back."
            )
        broken = verify_trail()
        if broken:
            raise CommandError(f"The trail does not hold: {broken.reason}")
        rows, last = trail_head()
        self.stdout.write(f"The trail holds: {rows} rows, the last with hash {last}.")


def _checked(path: Path) -> ExtractCheck:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            found = check_extract(read_rows(file.read()))
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} can't be read: {error}.") from None
    except InputError as error:
        raise CommandError(str(error)) from None
    if found.broken:
        raise CommandError(f"The export does not hold: {found.broken.reason}")
    return found


def _told(found: ExtractCheck) -> str:
    if not found.rows:
        return "The file has no rows."
    span = f"{found.rows} rows, from {found.first} to {found.last}"
    told = f"Every row holds: {span}, the last with hash {found.last_sha256}."
    if not found.gaps:
        return f"{told} None is missing between them."
    left_out = sum(last - first + 1 for first, last in found.gaps)
    return (
        f"{told} {left_out} rows between them were left out, in {len(found.gaps)} gaps: across these the chain can't be"
        " followed here."
    )
