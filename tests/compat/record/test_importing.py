"""Tables of readings: bounds, units, times and sentences; XLSX and pasted sheets like CSV."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from openpyxl import Workbook

from compat.accord.checklist.item import Side
from compat.case.case_file import CaseFile, check_case
from compat.record.importing import MOST_ROWS, Row, read_table, read_text, readings_in, template
from shared.reading import DocumentError
from tests.builders import case_document

CASE: CaseFile = check_case(case_document(), "case")
HEAD = "Time (UTC),Manifold pressure [psi],Rate,Cargo pump P1: speed,Remark\n"


def rows(text: str, side: Side = Side.SHIP) -> list[Row]:
    return readings_in(read_text(text), CASE, side)


def problems(text: str, side: Side = Side.SHIP) -> list[str]:
    with pytest.raises(DocumentError) as found:
        rows(text, side)
    return found.value.problems


def test_a_table_is_read_in_its_units_and_in_order_of_time() -> None:
    second, first = rows(HEAD + "2031-04-14 16:30,101.526,2610,1250,\n2031-04-14 15:30,100,2600,1240,calm\n")[::-1]
    assert first.at == datetime(2031, 4, 14, 15, 30, tzinfo=UTC)
    # 1 psi = 6894.757293168 Pa (NIST SP 811, appendix B; from memory): 101.526 psi are 7.0000 bar.
    assert float(second.values["manifold_pressure_bar_gauge"]) == pytest.approx(7.0, abs=1e-4)
    assert second.values["speed_rpm:P1"] == Decimal(1250)
    assert second.typed["manifold_pressure_bar_gauge"] == "101.526 psi"
    assert first.remark == "calm"


@pytest.mark.parametrize("parting", ["\t", ";"])
def test_a_pasted_sheet_is_parted_by_tabs_or_semicolons(parting: str) -> None:
    found = rows((HEAD + "2031-04-14T15:30Z,100,2600,1240,\n").replace(",", parting))
    assert found[0].values["rate_m3_per_h"] == Decimal(2600)


def test_an_xlsx_file_is_read_with_its_dates_and_numbers() -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Time (UTC)", "Manifold pressure [bar]", "Rate [bbl/h]"])
    sheet.append([datetime(2031, 4, 14, 15, 30), 6.25, 16353.5])  # noqa: DTZ001 - a sheet knows no zones
    sheet.append([None, None, None])
    held = io.BytesIO()
    book.save(held)
    found = readings_in(read_table(held.getvalue(), "log.xlsx"), CASE, Side.SHIP)
    assert found[0].at == datetime(2031, 4, 14, 15, 30, tzinfo=UTC)
    # 1 bbl = 0.158987295 m3 (API MPMS ch. 1; from memory)
    assert float(found[0].values["rate_m3_per_h"]) == pytest.approx(16353.5 * 0.158987295, rel=1e-8)


def test_what_is_wrong_is_said_by_row_and_column() -> None:
    told = problems(HEAD + 'tomorrow,7,2600,,\n2031-04-14 15:30,9000,2600,,\n2031-04-14 16:30,"7,5",2600,,\n')
    assert told[0] == "Row 2: its time is missing or can't be read; write it as 2026-03-21 14:30, in UTC."
    assert "Row 3: Manifold pressure is" in told[1]
    assert "allowed: -1 to 60 bar." in told[1]
    assert "Row 4: Manifold pressure “7,5” has a comma" in told[2]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "The table is empty"),
        ("Time (UTC),Rate\n", "has no readings under its first row"),
        ("Rate\n2600\n", "There is no column “Time (UTC)”"),
        ("Time (UTC),Wind\n2031-04-14 15:30,9\n", "Column “Wind” is not read by the ship here"),
        ("Time (UTC),Rate [gpm]\n2031-04-14 15:30,9\n", "has the unit gpm; choose one of"),
        ("Time (UTC),Rate\n2031-04-14 15:30,\n", "Row 2: nothing was read"),
        ("Time (UTC),Rate\n" + "2031-04-14 15:30,9\n" * 2, "Two rows stand at 2031-04-14 15:30 UTC"),
        ("Time (UTC),Rate\n" + "2031-04-14 15:30,9\n" * (MOST_ROWS + 1), f"allowed: up to {MOST_ROWS}"),
    ],
)
def test_a_table_that_can_not_be_used_says_why(text: str, sentence: str) -> None:
    assert any(sentence in told for told in problems(text))


def test_a_damaged_or_unknown_file_is_refused_in_a_sentence() -> None:
    for data, sentence in ((b"PK\x03\x04 broken", "can't be read as an XLSX file"), (b"\xff\xfe\x00", "nor UTF-8")):
        with pytest.raises(DocumentError, match=sentence):
            read_table(data, "log")
    with pytest.raises(DocumentError, match="allowed: up to 2,000,000"):
        read_table(b"x" * 2_000_001, "log")


def test_the_template_reads_back_in_the_units_of_the_person() -> None:
    head = template(CASE, Side.TERMINAL, {"pressure": "kgf/cm²"})
    assert "Manifold pressure [kgf/cm²]" in head
    values = ["2031-04-14 15:30", "7.138"] + [""] * (head.count(",") - 1)
    found = rows(head + ",".join(values) + "\n", Side.TERMINAL)
    # 1 kgf/cm2 = 0.980665 bar (exact, NIST SP 811; from memory)
    assert float(found[0].values["manifold_pressure_bar_gauge"]) == pytest.approx(7.138 * 0.980665, rel=1e-9)
