"""Read the published values in tests/reference: comment lines with the source first, then plain CSV."""

from __future__ import annotations

import csv
from pathlib import Path

FOLDER = Path(__file__).parent / "reference"


def reference_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of ``tests/reference/<name>.csv`` as text by column; refuse a table that names no source."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    assert any(line.startswith("# Source:") for line in lines), f"{name}.csv names no source"
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def reference_numbers(name: str) -> list[dict[str, float]]:
    """Return the rows of a table in which every column is a number."""
    return [{column: float(text) for column, text in row.items()} for row in reference_rows(name)]
