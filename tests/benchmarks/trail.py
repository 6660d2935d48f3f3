"""How fast the trail is verified and exported: 100,000 rows in an SQLite file of its own.

    .venv/bin/python -m tests.benchmarks.trail

The rows are what acts on an accord leave behind: a person, an organisation, a subject and facts of about 180 bytes.
Elapsed and processor time of one run each; the file lies in a folder that is removed at the end.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter, process_time

import django

from tests.benchmarks.tables import show

ROWS = 100_000
BATCH = 5_000


def write(count: int) -> None:
    """Write a chain of rows, past every rule but those that the database itself holds."""
    from shared.canonical import canonical_bytes  # noqa: PLC0415
    from shared.models import TrailRow  # noqa: PLC0415
    from shared.trail import BEFORE_THE_FIRST, row_sha256  # noqa: PLC0415

    previous, start = BEFORE_THE_FIRST, datetime(2031, 1, 1, tzinfo=UTC)
    batch = []
    for position in range(1, count + 1):
        facts = {
            "key": "manifold_pressure_bar_gauge",
            "value": f"{position % 12}.5 bar",
            "typed": f"{position % 12},5 bar",
            "side": "ship",
            "remark": "Agreed with the loading master after the pre-transfer meeting; café № 7, jetty ²",
        }
        row = TrailRow(
            position=position,
            at=start + timedelta(seconds=37 * position),
            person="Teodor Lund (teodor.lund)",
            organisation="Calder Reach Shipping",
            act="value proposed",
            subject=f"accord:0f8fad5b-d9cb-469f-a165-7086772895{position % 100:02}",
            facts=canonical_bytes(facts).decode(),
            previous_sha256=previous,
        )
        row.sha256 = previous = row_sha256(row)
        batch.append(row)
        if len(batch) == BATCH:
            TrailRow.objects.bulk_create(batch)
            batch = []
    TrailRow.objects.bulk_create(batch)


def times(act: Callable[[], object]) -> str:
    """Return how long an act takes, elapsed and on the processor."""
    elapsed, processor = perf_counter(), process_time()
    act()
    return f"{perf_counter() - elapsed:.2f} s, {process_time() - processor:.2f} s"


def measure() -> None:
    """Write the rows, then verify and export them."""
    from django.core.management import call_command  # noqa: PLC0415

    from shared.models import TrailRow  # noqa: PLC0415
    from shared.trail import verify_trail  # noqa: PLC0415
    from shared.trail_files import as_csv, as_lines  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    rows = TrailRow.objects.all()
    figures = [
        ("written", times(lambda: write(ROWS))),
        ("verified", times(lambda: check(verify_trail()))),
        ("exported as lines of JSON", times(lambda: sum(len(part) for part in as_lines(rows)))),
        ("exported as CSV", times(lambda: sum(len(part) for part in as_csv(rows)))),
    ]
    show(f"{ROWS:,} rows: elapsed, processor", figures)


def check(broken: object) -> None:
    """Raise RuntimeError for a trail that does not hold: its time would say nothing."""
    if broken is not None:
        raise RuntimeError(str(broken))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BERTH_ACCORD_DATABASE"] = f"sqlite:///{Path(folder) / 'trail.sqlite3'}"
        os.environ.setdefault("BERTH_ACCORD_SECRET_KEY", "for-this-benchmark-only")
        os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
        django.setup()
        measure()
