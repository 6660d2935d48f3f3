"""Print the public key of this installation, to be published where readers of plans look for it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from shared.signing import KeyFileError, load_key


class Command(BaseCommand):
    """Print the public key as PEM; it verifies plans and tells nothing secret."""

    help = "Print this installation's public key (PEM). Publish it; anyone verifies plans with it."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the key, or say in a sentence why there is none."""
        try:
            key = load_key(settings.SIGNING_KEY_FILE)
        except KeyFileError as error:
            raise CommandError(str(error)) from error
        self.stderr.write(f"Key {key.key_id()}")
        self.stdout.write(key.public_key_pem(), ending="")
