"""Writers of one SQLite file wait in line for their transaction.

SQLite itself lets whoever asks at the right moment go first, and who keeps asking at the wrong ones ends with
“database is locked”. Here each transaction first takes a lock of the operating system, which wakes who waits. A process
that dies gives its lock up by that.
"""

from __future__ import annotations

import fcntl
import os
from typing import Any

from django.db.backends.sqlite3 import base


class DatabaseWrapper(base.DatabaseWrapper):
    """A connection that holds its place in the line from the start of a transaction to its end."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._turn: int | None = None

    def _start_transaction_under_autocommit(self) -> None:
        self._take_turn()
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc]
        except BaseException:
            self._end_turn()
            raise

    def _commit(self) -> None:
        super()._commit()  # type: ignore[misc]
        self._end_turn()

    def _rollback(self) -> None:
        try:
            super()._rollback()  # type: ignore[misc]
        finally:
            self._end_turn()

    def _close(self) -> None:
        try:
            super()._close()  # type: ignore[misc]
        finally:
            self._end_turn()

    def _take_turn(self) -> None:
        name = str(self.settings_dict["NAME"])
        if self._turn is not None or self.is_in_memory_db():
            return
        self._turn = os.open(f"{name}-queue", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        fcntl.flock(self._turn, fcntl.LOCK_EX)

    def _end_turn(self) -> None:
        if self._turn is not None:
            os.close(self._turn)  # gives the lock up as well
            self._turn = None
