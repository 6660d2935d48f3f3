"""The transfer record as a Django application."""

from __future__ import annotations

from django.apps import AppConfig


class RecordConfig(AppConfig):
    """Registers what waits for a person in the records of transfers."""

    name = "compat.record"
    label = "record"

    def ready(self) -> None:
        """Import the registrations once the models are there."""
        from compat.record import queries  # noqa: F401, PLC0415
