"""``manage.py demo_case``: print a case file of the demo scenario."""

from __future__ import annotations

from django.core.management.base import BaseCommand

from compat.case.case_file import case_document
from compat.demo.example import example_case
from compat.management.commands.assess import as_json


class Command(BaseCommand):
    """Print a case file of the demo scenario, to try ``manage.py assess`` with or to write one's own from."""

    help = "Print a case file of the demo scenario; manage.py assess takes it."
    requires_system_checks = ()

    def handle(self, **_: object) -> None:
        """Print it."""
        self.stdout.write(as_json(case_document(example_case())), ending="")
