"""Notes the head of the trail outside the database whenever a plan comes into force, one line for each.

A database that was put back from an older copy lacks rows that these lines name.
"""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings
from django.db import transaction

from shared.models import TrailRow
from shared.trail import Witness, trail_witness


def keep_head(row: TrailRow) -> None:
    """Note a row once its transaction is through."""
    transaction.on_commit(lambda: _append(f"{row.position} {row.sha256}\n"))


def _append(line: str) -> None:
    if settings.TRAIL_HEADS_FILE is not None:
        with settings.TRAIL_HEADS_FILE.open("a", encoding="ascii") as file:
            file.write(line)


@trail_witness
def noted_heads() -> Iterator[Witness]:
    """Yield every row that was noted."""
    path = settings.TRAIL_HEADS_FILE
    if path is None or not path.exists():
        return
    for line in path.read_text(encoding="ascii").splitlines():
        position, _, sha256 = line.partition(" ")
        yield Witness(int(position), sha256, f"the file {path.name}")
