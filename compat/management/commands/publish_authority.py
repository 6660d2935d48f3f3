"""Print the certificate of this installation's authority, to be published where readers of plans look for it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from shared.authority import certificate_file, fingerprint, load_certificate
from shared.signing import KeyFileError, load_key


class Command(BaseCommand):
    """Print the certificate as PEM; it verifies plans and tells nothing secret."""

    help = "Print the certificate of this installation's authority (PEM). Publish it; anyone verifies plans with it."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the certificate, or say in a sentence why there is none."""
        path = certificate_file(settings.SIGNING_KEY_FILE)
        try:
            key = load_key(settings.SIGNING_KEY_FILE)
            pem = path.read_bytes()
            certificate = load_certificate(pem, key)
        except FileNotFoundError:
            raise CommandError(f"There is no certificate at {path}; run “manage.py up” once to make it.") from None
        except KeyFileError as error:
            raise CommandError(str(error)) from error
        self.stderr.write(f"SHA-256 of the certificate: {fingerprint(certificate)}")
        self.stdout.write(pem.decode("ascii"), ending="")
