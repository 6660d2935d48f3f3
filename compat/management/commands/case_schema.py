"""``manage.py case_schema``: print the JSON Schema of the case file."""

from __future__ import annotations

from django.core.management.base import BaseCommand

from compat.case.case_file import case_schema
from compat.management.commands.assess import as_json


class Command(BaseCommand):
    """Print the JSON Schema of the case file."""

    help = "Print the JSON Schema (draft 2020-12) of the case file."
    requires_system_checks = ()

    def handle(self, **_: object) -> None:
        """Print it."""
        self.stdout.write(as_json(case_schema()), ending="")
