"""The accord as a Django application."""

from __future__ import annotations

from django.apps import AppConfig


class AccordConfig(AppConfig):
    """Registers what other rooms ask of this one: trail rows to read, what waits, mail, what is sealed."""

    name = "compat.accord"
    label = "accord"

    def ready(self) -> None:
        """Import the registrations once the models are there."""
        from compat.accord import keys, notices, queries  # noqa: F401, PLC0415
