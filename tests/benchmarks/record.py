"""How long a record of 48 hours at 15 minutes takes to open, to be frozen, and to be printed.

Run by hand: DJANGO_SETTINGS_MODULE=tests.settings python -m tests.benchmarks.record
"""

from __future__ import annotations

import statistics
import sys
import time
from datetime import timedelta
from decimal import Decimal

import django

django.setup()

# ruff: noqa: E402
from django.conf import settings
from django.test import Client
from django.test.utils import get_runner, override_settings
from django.urls import reverse

from compat.accord.plan_file import read_record
from compat.record.models import Reading, TransferRecord
from compat.record.record_document import record_payload
from compat.record.record_pdf import pdf_to_sign
from shared.canonical import canonical_bytes
from shared.models import Organisation, Person
from shared.roles import Kind, Role
from tests.builders import SECRET
from tests.compat.record.keeping import START, flowing, read

QUARTERS = 4 * 48
OPENED = 20


def say(line: str) -> None:
    """Write one line of what was measured."""
    sys.stdout.write(line + "\n")


def officer(username: str, kind: Kind) -> Person:
    """Return an officer of a party of its own."""
    organisation = Organisation.objects.create(name=f"{username} party", kind=kind)
    return Person.objects.create_user(
        username,
        password=SECRET,
        full_name=username.title(),
        title="Officer",
        organisation=organisation,
        role=Role.OFFICER,
    )


def filled(ship: Person, terminal: Person) -> TransferRecord:
    """Return a record with a reading of each side every quarter of an hour for two days."""
    record = flowing(ship, terminal)
    first = read(record, ship, after_h=0.25, confirmed=True)
    second = read(record, terminal, after_h=0.25, confirmed=True, values={"manifold_pressure_bar_gauge": Decimal(5)})
    rows = []
    for number in range(2, QUARTERS + 1):
        for one in (first, second):
            copy = Reading.objects.get(pk=one.pk)
            copy.pk, copy.at = None, START + timedelta(minutes=15 * number)
            copy.entered_at, copy.draft = copy.at, Reading._meta.get_field("draft").get_default()
            rows.append(copy)
    Reading.objects.bulk_create(rows)
    return record


def timed(record: TransferRecord, person: Person) -> None:
    """Print how long pages, document and print take."""
    client = Client()
    client.force_login(person)
    for name in ("record", "record-readings", "record-audit", "record-performance"):
        address = reverse(name, args=[record.accord.public_id])
        took = []
        for _ in range(OPENED):
            begun = time.perf_counter()
            answer = client.get(address)
            took.append(1000 * (time.perf_counter() - begun))
            assert answer.status_code == 200
        say(f"{name}: median {statistics.median(took):.0f} ms, slowest {max(took):.0f} ms")
    begun = time.perf_counter()
    data = canonical_bytes(record_payload(record, now=START + timedelta(hours=49)))
    say(f"frozen: {time.perf_counter() - begun:.2f} s, {len(data):,} bytes")
    begun = time.perf_counter()
    pdf = pdf_to_sign(read_record(data))
    say(f"printed: {time.perf_counter() - begun:.2f} s, {len(pdf):,} bytes")


def main() -> None:
    """Measure in a database of its own, which is dropped afterwards."""
    runner = get_runner(settings)(verbosity=0, interactive=False)
    made = runner.setup_databases()
    try:
        with override_settings(ALLOWED_HOSTS=["*"]):
            ship, terminal = officer("ship", Kind.SHIP), officer("terminal", Kind.TERMINAL)
            record = filled(ship, terminal)
            say(f"{record.readings.count()} readings")
            timed(record, ship)
    finally:
        runner.teardown_databases(made)


if __name__ == "__main__":
    main()
