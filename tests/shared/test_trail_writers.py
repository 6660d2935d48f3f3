"""Several processes write one trail in one SQLite file."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]
ROWS = 8
WRITERS = 3
WRITER = f"""
import django
django.setup()
from datetime import UTC, datetime
from django.db import transaction
from shared.trail import record
for number in range({ROWS}):
    with transaction.atomic():
        record(act="vessel changed", by=None, now=datetime.now(UTC), subject="vessel:a", facts={{"number": number}})
"""
READER = """
import django
django.setup()
from shared.trail import trail_head, verify_trail
print(trail_head()[0], verify_trail())
"""


@pytest.mark.slow
def test_writers_in_one_sqlite_file_take_turns(tmp_path: Path) -> None:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "compat.settings",
        "BERTH_ACCORD_SECRET_KEY": "for-this-test-only",
        "BERTH_ACCORD_DATA": str(tmp_path),
        "BERTH_ACCORD_DATABASE": f"sqlite:///{tmp_path / 'trail.sqlite3'}",
    }

    def start(*arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, *arguments],
            cwd=PROJECT,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def end(process: subprocess.Popen[str]) -> str:
        output, _ = process.communicate(timeout=120)
        assert process.returncode == 0, output
        return output.strip()

    end(start("manage.py", "migrate", "--verbosity", "0"))
    for writer in [start("-c", WRITER) for _ in range(WRITERS)]:
        end(writer)
    assert end(start("-c", READER)) == f"{ROWS * WRITERS} None"
