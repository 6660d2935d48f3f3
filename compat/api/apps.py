"""Makes the API a Django application."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """The API and what it stores."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "compat.api"
    label = "api"
