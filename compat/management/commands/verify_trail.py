"""``manage.py verify_trail``: walk the whole trail and say whether it holds."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shared.trail import trail_head, verify_trail


class Command(BaseCommand):
    """Print the last row's hash when the trail holds; name the first broken row when it does not."""

    help = "Check the hash chain of the whole trail; the exit status is 1 when it is broken."

    def handle(self, *args: Any, **options: Any) -> None:
        """Verify, then say the outcome in one sentence."""
        broken = verify_trail()
        if broken:
            raise CommandError(f"The trail does not hold: {broken.reason}")
        rows, last = trail_head()
        self.stdout.write(f"The trail holds: {rows} rows, the last with hash {last}.")
