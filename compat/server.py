"""How gunicorn serves the site; its own names for its own settings."""

from __future__ import annotations

import os
import signal
from types import FrameType

from gunicorn.arbiter import Arbiter
from gunicorn.workers.base import Worker

wsgi_app = "compat.wsgi:application"
workers = 2  # processes of one thread each, which measured faster than threads on two cores
timeout = 120  # seconds that one answer may take
graceful_timeout = 10  # seconds that answers under way get when the site stops
loglevel = "warning"
control_socket_disable = True


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
