"""Twenty people who write without pause into one database: how many acts a second, how long each, and no error.

Four processes of five threads each add ships and revise them, as acts with their rows in the trail; afterwards every
row is there and the chain of the trail holds. On a SQLite file of its own unless BERTH_ACCORD_DATABASE names another.
Run from the project's folder: python -m tests.benchmarks.writers [--seconds 60]
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import django

PROCESSES, THREADS = 4, 5


def main() -> None:
    """Prepare a database, let the writers write, verify, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--writer", type=int, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.writer is not None:
        _process(asked.writer, asked.seconds)
        return
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("BERTH_ACCORD_DATABASE", f"sqlite:///{folder}/writers.sqlite3")
        os.environ.setdefault("BERTH_ACCORD_DATA", folder)
        os.environ["BERTH_ACCORD_SECRET_KEY"] = "only-for-this-measurement"
        _prepare()
        command = [sys.executable, "-m", "tests.benchmarks.writers", "--seconds", str(asked.seconds), "--writer"]
        running = [
            subprocess.Popen([*command, str(number)], stdout=subprocess.PIPE, text=True) for number in range(PROCESSES)
        ]
        told = [process.communicate()[0] for process in running]
        _report([line for text in told for line in text.split()], asked.seconds)


def _prepare() -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
    django.setup()
    from django.core.management import call_command  # noqa: PLC0415 (Django is ready only now)

    from shared.roles import Role  # noqa: PLC0415
    from tests.builders import make_organisation, make_person  # noqa: PLC0415

    Path(os.environ["BERTH_ACCORD_DATA"]).mkdir(parents=True, exist_ok=True)
    call_command("migrate", verbosity=0)
    organisation = make_organisation()
    for number in range(PROCESSES * THREADS):
        make_person(organisation, Role.OFFICER, username=f"writer-{number}", full_name=f"Writer {number}")


def _process(number: int, seconds: float) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "compat.settings"
    django.setup()
    lines: list[str] = []
    threads = [
        threading.Thread(target=_write, args=(number * THREADS + one, time.monotonic() + seconds, lines))
        for one in range(THREADS)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    sys.stdout.write("\n".join(lines))


def _write(writer: int, until: float, lines: list[str]) -> None:
    """Add a ship, then revise her again and again; note the milliseconds of each act, or the error."""
    from django.db import connection  # noqa: PLC0415

    from shared.models import Person  # noqa: PLC0415
    from tests.builders import ship_facts  # noqa: PLC0415
    from vessels.actions import add_vessel, revise_vessel  # noqa: PLC0415
    from vessels.facts import ShipFacts  # noqa: PLC0415

    by = Person.objects.get(username=f"writer-{writer}")
    vessel, number = None, 0
    while time.monotonic() < until:
        number += 1
        facts = ShipFacts.model_validate(ship_facts(name=f"Ship {writer} {number}", imo_number=None))
        began = time.perf_counter()
        try:
            if vessel is None:
                vessel = add_vessel(by=by, now=datetime.now(UTC), facts=facts)
            else:
                revise_vessel(by=by, now=datetime.now(UTC), vessel=vessel, started_from=number - 1, facts=facts)
            lines.append(f"{1000 * (time.perf_counter() - began):.1f}")
        except Exception as error:  # noqa: BLE001 (each is counted and named)
            lines.append(f"error:{type(error).__name__}")
    connection.close()


def _report(lines: list[str], seconds: float) -> None:
    from shared.models import TrailRow  # noqa: PLC0415
    from shared.trail import verify_trail  # noqa: PLC0415
    from vessels.models import VesselRevision  # noqa: PLC0415

    errors = [line for line in lines if line.startswith("error:")]
    times = sorted(float(line) for line in lines if not line.startswith("error:"))
    rows, trail, broken = VesselRevision.objects.count(), TrailRow.objects.count(), verify_trail()
    sys.stdout.write(
        f"{PROCESSES * THREADS} writers, {seconds:.0f} s: {len(times)} acts ({len(times) / seconds:.0f} a second),"
        f" median {times[len(times) // 2]:.0f} ms, 95 % under {times[int(0.95 * len(times))]:.0f} ms,"
        f" longest {times[-1]:.0f} ms; {len(errors)} errors {sorted(set(errors))};"
        f" {rows} revisions and {trail} rows of the trail, which {'does not hold' if broken else 'holds'}.\n"
    )
    sys.exit(1 if errors or broken or rows != len(times) or trail != len(times) else 0)


if __name__ == "__main__":
    main()
