"""Addresses for those who keep the site running."""

from django.urls import path

from compat.running import health, metrics

urlpatterns = [
    path("health/alive/", health.alive, name="health-alive"),
    path("health/ready/", health.ready, name="health-ready"),
    path("metrics/", metrics.metrics, name="metrics"),
]
