"""Jobs on Celery, over any number of machines. Imported only where the setting BROKER names a Redis server."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from celery import Celery
from celery.signals import setup_logging
from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.utils.module_loading import autodiscover_modules
from kombu.exceptions import OperationalError as BrokerIsAway

from shared.jobs import JOBS, BrokerError

TAKEN_OVER_AFTER_S = 60
_ANSWER_WITHIN_S = 3.0
_TRIES_WITHOUT_DATABASE = 6


@cache
def app(taken_over_after_s: int = TAKEN_OVER_AFTER_S) -> Celery:
    """Return the Celery application with every job of every room.

    A job leaves the broker when it is done, and not when it is taken: a worker that is lost gives nothing up for lost.
    What a worker has held for ``taken_over_after_s`` goes to another one.
    """
    autodiscover_modules("jobs")
    made = Celery("berth-accord", broker=settings.BROKER, set_as_current=False)
    made.conf.update(
        task_ignore_result=True,
        task_acks_late=True,
        task_reject_on_worker_lost=True,
        worker_prefetch_multiplier=1,
        worker_cancel_long_running_tasks_on_connection_loss=True,
        worker_enable_remote_control=False,
        broker_connection_retry_on_startup=True,
        broker_transport_options={
            "visibility_timeout": taken_over_after_s,
            "unacked_restore_interval": max(1, taken_over_after_s // 4),  # how often each worker looks for lost ones
            "unacked_restore_throttle": 1,
            "socket_connect_timeout": _ANSWER_WITHIN_S,
            "max_retries": 1,  # of whoever hands over; a worker waits for its broker as long as it takes
            "socket_keepalive": True,
        },
        accept_content=["json"],
    )
    for one in JOBS.values():
        # A database that restarts is waited for; the job itself is refused only by its own errors.
        made.task(
            name=one.name,
            shared=False,
            autoretry_for=(OperationalError, InterfaceError),
            retry_backoff=True,
            max_retries=_TRIES_WITHOUT_DATABASE,
        )(one.work)
    return made


def send(name: str, arguments: Sequence[Any]) -> None:
    """Hand a job over at once, or raise BrokerError."""
    here = app()
    try:
        here.send_task(name, args=arguments, queue=JOBS[name].queue, ignore_result=True, retry=False)
    except BrokerIsAway as error:
        raise BrokerError(f"The broker did not take “{name}”: {error}") from error


def answers() -> bool:
    """Tell whether the broker can be reached."""
    try:
        with app().connection_for_write() as connection:
            connection.ensure_connection(max_retries=1, timeout=_ANSWER_WITHIN_S)
    except (BrokerIsAway, OSError):
        return False
    return True


def serve(processes: int, taken_over_after_s: int) -> None:
    """Work on jobs of all queues until stopped; running ones are finished first."""
    made = app(taken_over_after_s)
    queues = ",".join(sorted({one.queue for one in JOBS.values()}))
    stated = ["--concurrency", str(processes), "--queues", queues, "--loglevel", "WARNING"]
    made.worker_main(["worker", *stated, "--without-gossip", "--without-mingle", "--without-heartbeat"])


def _log_as_the_site_does(**_: Any) -> None:
    """Keep Celery from putting its own format of log lines in place of the site's."""


setup_logging.connect(_log_as_the_site_does)
