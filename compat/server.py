"""How gunicorn serves the site; its own names for its own settings."""

from __future__ import annotations

import os
import shutil
import signal
from pathlib import Path
from types import FrameType

from gunicorn.arbiter import Arbiter
from gunicorn.workers.base import Worker
from prometheus_client import multiprocess

from compat import settings

wsgi_app = "compat.wsgi:application"
workers = 2  # processes of one thread each, which measured faster than threads on two cores
timeout = 120  # seconds that one answer may take
graceful_timeout = 10  # seconds that answers under way get when the site stops
loglevel = "warning"
control_socket_disable = True

# The processes put their counts into one folder, from which any of them answers for all.
_counts = Path(settings.DATA_DIR, "metrics")
os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(_counts)


def on_starting(_server: Arbiter) -> None:
    """Begin the counts anew."""
    shutil.rmtree(_counts, ignore_errors=True)
    _counts.mkdir(parents=True)


def child_exit(_server: Arbiter, worker: Worker) -> None:
    """Keep the counts of a process that has ended, and forget what it was just doing."""
    multiprocess.mark_process_dead(worker.pid)  # type: ignore[no-untyped-call]


def when_ready(server: Arbiter) -> None:
    """Let Ctrl-C stop the site as a polite request does: answers under way are finished."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        os.kill(server.pid, signal.SIGTERM)

    signal.signal(signal.SIGINT, stop)


def post_worker_init(_worker: Worker) -> None:
    """Leave Ctrl-C to the parent process; a terminal sends it to all of them."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def on_exit(_server: Arbiter) -> None:
    """Say that the end was meant."""
    print("\nBerth Accord has stopped; all data is kept.")  # noqa: T201
