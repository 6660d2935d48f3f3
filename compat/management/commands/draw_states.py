"""Draw the states of an accord, as DEVELOPERS.md shows them."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from compat.accord.states import diagram


class Command(BaseCommand):
    """Print the table of moves as a Mermaid state diagram."""

    help = "Print the states of an accord as a Mermaid diagram; paste it into DEVELOPERS.md when the table changes."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the diagram."""
        self.stdout.write(diagram(), ending="")
