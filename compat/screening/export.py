"""A screening as a table for spreadsheets, with the unit in every head and what was screened on a sheet of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from compat.case.questions import LOCAL_RULES_FIRST
from compat.screening.showing import Shown
from compat.screening.table import Row
from shared.quantities import converted, exact, preferred
from shared.sheet_files import Value, csv_bytes, xlsx_bytes


def heads(units: Mapping[str, str]) -> list[str]:
    """Return the heads of the table, in a person's units."""
    rate, pressure = preferred(units, "m³/h"), preferred(units, "bar")
    return [
        "Ship",
        "Berth",
        "Cargo",
        "Fit",
        "Decided by",
        "Checks not decided",
        "Stands on an old or assumed fact",
        f"Rate [{rate}]",
        "Hours at this rate [h]",
        f"Manifold pressure [{pressure} gauge]",
        "Fastest pump [rpm]",
        "What sets the rate",
        "Note",
        "One change",
        f"It brings [{rate}]",
        "It saves [h]",
    ]


def lines(rows: Sequence[Row], units: Mapping[str, str]) -> Iterator[list[Value]]:
    """Yield the rows of the table, in a person's units."""
    for row in rows:
        yield [
            row.ship,
            row.berth,
            row.cargo,
            row.fit,
            row.decided_by,
            row.undecided,
            row.doubted,
            _in(row.rate_m3_per_h, "m³/h", units),
            _in(row.hours, "h", units),
            _in(row.pressure_bar_gauge, "bar", units),
            _in(row.speed_rpm, "rpm", units),
            row.limit,
            row.note,
            row.change,
            _in(row.gain_m3_per_h, "m³/h", units),
            _in(row.gain_h, "h", units),
        ]


def as_csv(rows: Sequence[Row], units: Mapping[str, str]) -> bytes:
    """Return the table as CSV."""
    return csv_bytes(heads(units), lines(rows, units))


def as_xlsx(this: Shown, rows: Sequence[Row], units: Mapping[str, str]) -> bytes:
    """Return the table as a workbook, with what was screened, when and by whom beside it."""
    screening = this.row
    about: list[list[Value]] = [
        ["Screening", screening.title],
        ["Made (UTC)", screening.made_at.strftime("%Y-%m-%d %H:%M")],
        ["Made by", str(screening.made_by)],
        ["State", screening.state],
        ["Pairs worked out", screening.done],
        ["Pairs in all", screening.total],
        ["Rows in this file", len(rows)],
        ["Caution", LOCAL_RULES_FIRST],
        ["Caution", "These figures are an aid: the persons in charge on board and ashore decide."],
    ]
    return xlsx_bytes([("Pairs", heads(units), lines(rows, units)), ("About", ["What", "It is"], about)])


def _in(value: float | None, unit: str, units: Mapping[str, str]) -> float | None:
    if value is None:
        return None
    return float(round(converted(exact(value), unit, preferred(units, unit)), 4))
