"""Work that any machine may do: functions under a name, handed to a broker where the setting BROKER names one.

A job takes plain JSON values. It may be done twice, where a worker was lost or was slow, and has to bear that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings


class BrokerError(Exception):
    """The broker did not take a job; the sentence says why."""


@dataclass(frozen=True)
class Job:
    """A function and the queue in which it waits; workers serve all queues in turn, so that none holds up another."""

    name: str
    work: Callable[..., None]
    queue: str


JOBS: dict[str, Job] = {}


def job(name: str, *, queue: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Register a function of an application's ``jobs.py`` as a job of this name."""

    def register(work: Callable[..., None]) -> Callable[..., None]:
        if name in JOBS and JOBS[name].work is not work:
            raise ValueError(f"There is a job {name!r} already.")
        JOBS[name] = Job(name, work, queue)
        return work

    return register


def has_broker() -> bool:
    """Tell whether jobs are handed to other processes and machines."""
    return bool(settings.BROKER)


def send(name: str, *arguments: Any) -> None:
    """Hand a job over; raise BrokerError where the broker does not take it."""
    from shared import broker  # noqa: PLC0415 - Celery is loaded only where a broker is named

    broker.send(name, arguments)


def broker_answers() -> bool:
    """Tell whether jobs can be handed over; without a broker they need none."""
    if not has_broker():
        return True
    from shared import broker  # noqa: PLC0415 - as above

    return broker.answers()
