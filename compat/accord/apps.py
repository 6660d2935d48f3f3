"""The accord as a Django application."""

from __future__ import annotations

from django.apps import AppConfig


class AccordConfig(AppConfig):
    """Registers what other rooms ask of this one: whose trail rows a person may read, and what waits for them."""

    name = "compat.accord"
    label = "accord"

    def ready(self) -> None:
        """Import the registrations once the models are there."""
        from compat.accord import queries  # noqa: F401, PLC0415
