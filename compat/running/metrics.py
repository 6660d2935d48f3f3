"""Counts and times of answers in the text form that monitoring programs read (Prometheus exposition format)."""

from __future__ import annotations

import os
import secrets

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

_SECONDS = (0.01, 0.025, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1, 2, 5, 10, 30)
_answers = Counter("berth_accord_answers", "Answered requests.", ["route", "method", "status"])
_seconds = Histogram("berth_accord_answer_seconds", "Time to answer a request.", ["route"], buckets=_SECONDS)


def count_answer(route: str, method: str, status: int, seconds: float) -> None:
    """Count one answered request under the pattern of its address."""
    _answers.labels(route, method, str(status)).inc()
    _seconds.labels(route).observe(seconds)


@login_not_required
def metrics(request: HttpRequest) -> HttpResponse:
    """Return all counts to who sends the token of BERTH_ACCORD_METRICS_TOKEN; without one there is no such page."""
    wanted = settings.METRICS_TOKEN
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not wanted or not secrets.compare_digest(given.encode(), wanted.encode()):
        raise Http404
    return HttpResponse(generate_latest(_registry()), content_type=CONTENT_TYPE_LATEST)


def _registry() -> CollectorRegistry:
    """Return what collects the counts of all server processes, where there are several."""
    registry = CollectorRegistry()
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    else:
        registry.register(_answers)
        registry.register(_seconds)
    return registry
