"""Questionnaires: what is written reads back to the same, and every bad cell is a sentence that names its place."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from shared.reading import DocumentError
from shared.sheet_files import csv_bytes, xlsx_bytes
from shared.sheets.answers import Answered, Reader
from shared.sheets.layout import Layout
from shared.sheets.reading import LARGEST_FILE_BYTES, read_sheets
from shared.sheets.writing import tables_of
from terminals.facts import BerthFacts
from terminals.sheet_views import berth_layout
from tests.compat.fit.building import berth_document, ship_document
from vessels.facts import ShipFacts
from vessels.plausible import size_questions
from vessels.sheet_views import ship_layout

SHIP = ShipFacts.model_validate(ship_document())
BERTH = BerthFacts.model_validate(berth_document())
KNOWN = {"9074729": SHIP, "astrid halvard": SHIP}


def read(data: bytes, layout: Layout | None = None, known: dict[str, Any] | None = None) -> list[Answered]:
    return Reader(layout or ship_layout(), KNOWN if known is None else known, "q.xlsx").read(
        read_sheets(data, "q.xlsx")
    )


def book(**sheets: list[list[Any]]) -> bytes:
    """A workbook with these sheets; underlines stand for spaces, double ones for a comma and a space."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name.replace("__", ", ").replace("_", " "))
        for row in rows:
            sheet.append(row)
    file = io.BytesIO()
    made.save(file)
    return file.getvalue()


def problems(act: Callable[[], Any]) -> list[str]:
    with pytest.raises(DocumentError) as caught:
        act()
    return caught.value.problems


def ships(*rows: list[Any], heads: tuple[str, ...] = ("Name", "IMO number", "Particulars: Beam [m]")) -> bytes:
    return book(Ships=[list(heads), *rows])


@pytest.mark.parametrize(("layout", "facts"), [(ship_layout(), SHIP), (berth_layout(), BERTH)])
def test_a_filled_questionnaire_reads_back_as_it_was_stated(layout: Layout, facts: Any) -> None:
    data = xlsx_bytes(tables_of(layout, [facts]))
    (alone,) = read(data, layout, known={})
    left_out = {"terminal", "port"} if layout is berth_layout() else set()
    assert alone.facts == facts.model_copy(update=dict.fromkeys(left_out, ""))
    assert alone.before is None
    (known,) = read(data, layout, known={facts.name.casefold(): facts})
    assert known.facts == known.before == facts


def test_csv_holds_the_first_sheet() -> None:
    _, heads, rows = tables_of(ship_layout(), [SHIP])[1]
    (found,) = Reader(ship_layout(), KNOWN, "fleet.csv").read(read_sheets(csv_bytes(heads, rows), "fleet.csv"))
    assert found.facts == SHIP


@pytest.mark.parametrize("layout", [ship_layout(), berth_layout()])
def test_names_of_sheets_and_heads_are_each_once(layout: Layout) -> None:
    names = [sheet.name for sheet in layout.sheets]
    assert len(set(names)) == len(names)
    assert all(len(name) <= 31 for name in names)
    for sheet in layout.sheets:
        heads = [column.label.casefold() for column in (*sheet.columns, *sheet.refs)]
        assert len(set(heads)) == len(heads)


def test_an_empty_cell_leaves_a_fact_and_not_known_takes_it_out() -> None:
    heads = ("IMO number", "Particulars: Beam [m]", "Particulars: Year built", "Source of these data")
    (found,) = read(ships(["9074729", None, "not known", "Survey"], heads=heads))
    assert isinstance(found.facts, ShipFacts)
    assert found.facts.particulars.beam_m == 32.2
    assert found.facts.particulars.year_built is None
    assert found.facts.source == "Survey"
    assert found.facts.pumps == SHIP.pumps


def test_a_head_may_carry_another_unit() -> None:
    (found,) = read(ships(["9074729", 100.0], heads=("IMO number", "Particulars: Beam [ft]")))
    assert isinstance(found.facts, ShipFacts)
    assert found.facts.particulars.beam_m == pytest.approx(30.48, abs=1e-9)


def test_a_list_is_replaced_and_its_items_keep_what_is_left_empty() -> None:
    lines = [["Ship", "Place", "How many"], [9074729, "head line", 3], ["Astrid Halvard", "stern line", 4]]
    data = book(Ships=[["Name", "IMO number"], ["Astrid Halvard", 9074729]], Mooring_lines=lines)
    (found,) = read(data)
    assert isinstance(found.facts, ShipFacts)
    assert found.facts.berthing is not None
    told = [(one.place, one.count, one.breaking_load_kn) for one in found.facts.berthing.moorings]
    assert told == [("head line", 3, 600.0), ("stern line", 4, 600.0)]


def test_a_point_belongs_to_its_pump_and_its_speed() -> None:
    heads = ["Ship", "Pumps: Short mark", "Pumps, curves: Speed [rpm]", "Flow [m³/h]", "Head [m]"]
    points = [heads, ["9074729", "P1", 1500, 0, 150], ["9074729", "P1", 1500, 900, 120]]
    data = book(Ships=[["IMO number"], ["9074729"]], Pumps__curves__points=points)
    (found,) = read(data)
    assert isinstance(found.facts, ShipFacts)
    curve = found.facts.pumps[0].curves[0]
    assert [(point.flow_m3_per_h, point.head_m) for point in curve.points or []] == [(0.0, 150.0), (900.0, 120.0)]
    assert found.facts.pumps[1] == SHIP.pumps[1]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (ships(["A", "9074728", 30]), "Ships, row 2, column B (IMO number): IMO number 9074728 has check digit 8, but"),
        (ships(["A", "9074729", 320]), "Ships, row 2, column C (Particulars: Beam [m]) is 320 m; allowed: 5 to 80 m."),
        (ships(["A", "9074729", "wide"]), "Ships, row 2, column C (Particulars: Beam [m]) is not a number."),
        (ships(["A", "9074729", "32,2"]), "Ships, row 2, column C (Particulars: Beam [m]) has a comma; write a point"),
        (ships(["A", "9074729", "=30+2"]), "Ships, row 2, column C holds a formula; write the value itself."),
        (ships(["A", "9074729", 30], ["B", "9074729", 31]), "Ships, row 3 names 9074729 a second time, after row 2; keep one."),  # noqa: E501
        (ships([None, None, 30]), "Ships, row 2 names no ship."),
        (ships(["A", "9074729", 30, "more"]), "Ships, row 2, column D stands under no head."),
        (ships(["A", 30], heads=("Name", "Particulars: Beem [m]")), "“Particulars: Beem”, a column that Ships does not have. Did you mean “Particulars: Beam”?"),  # noqa: E501
        (ships(["A", 30], heads=("Name", "Particulars: Beam [kg]")), "Ships, row 1, column B has the unit kg; allowed: m, ft."),  # noqa: E501
        (ships(["A", "B"], heads=("Name", "Name")), "Ships, row 1, column B is “Name” a second time; keep one of the columns."),  # noqa: E501
        (book(Boats=[["Name"], ["A"]], Ships=[["Name"], ["A"]]), "Sheet “Boats” is not known; allowed: Ships, "),
        (book(Ships=[["Name"], ["A"]], Mooring_lines=[["Ship", "Place"], ["B", "head line"]]), "Mooring lines, row 2 belongs to B, which sheet Ships does not list."),  # noqa: E501
        (
            book(Ships=[["IMO number"], ["9074729"]], Mooring_lines=[["Ship", "Place", "How many"], ["9074729", "middle", 2]]),  # noqa: E501
            "Mooring lines, row 2, column B (Place): Place is 'middle'; allowed:",
        ),
        (
            book(Ships=[["IMO number"], ["9074729"]], Certificates=[["Ship", "Certificate", "Valid to"], ["9074729", "load line", "soon"]]),  # noqa: E501
            "Certificates, row 2, column C (Valid to): Valid to is 'soon'; write a day as 2031-04-14",
        ),
        (book(Ships=[["Name"]]), "q.xlsx names no ship; fill in at least one row."),
        (b"", "q.xlsx is empty; choose another file."),
        (b"PK\x03\x04 and no more", "q.xlsx is no whole workbook. Was it cut short?"),
    ],
)  # fmt: skip
def test_each_bad_cell_is_a_sentence_that_names_its_place(data: bytes, sentence: str) -> None:
    told = problems(lambda: read(data))
    assert any(sentence in problem for problem in told), told


def test_every_problem_is_told_at_once() -> None:
    told = problems(lambda: read(ships(["A", "9074728", 320], ["B", "9551974", 1])))
    assert len(told) == 4  # two check digits and two beams
    told = problems(lambda: read(ships(["A", "9074728", "=1+1"], ["B", "9551974", 1])))
    assert len(told) == 4  # two check digits, a formula and a beam


def test_a_column_that_is_not_known_is_told_once_and_not_with_every_row() -> None:
    heads = ("Name", "IMO number", "Particulars: Beam [m]", "Width of her smile")
    (told,) = problems(lambda: read(ships(["A", "9074729", 30, 1], ["B", "9551973", 31, 2], heads=heads)))
    assert "Ships, row 1, column D is “Width of her smile”" in told


@pytest.mark.parametrize(("beam", "metres"), [(105.6, 32.18688), ("105.6", 32.18688), (80.1, 24.41448)])
def test_feet_typed_for_metres_are_a_question_and_no_refusal(beam: float | str, metres: float) -> None:
    (found,) = read(ships(["Astrid Halvard", "9074729", beam]))
    assert isinstance(found.facts, ShipFacts)
    assert found.facts.particulars.beam_m == pytest.approx(metres, abs=1e-9)  # 1 ft is 0.3048 m exactly
    (question,) = found.questions
    assert question.startswith(
        f"Ships, row 2, column C (Particulars: Beam [m]) is {beam} m; allowed: 5 to 80 m. Is it in feet?"
    )
    assert f"{beam} ft is {metres:.2f} m, which is what saving takes" in question


def test_a_length_within_its_range_or_under_a_head_in_feet_is_not_asked_about() -> None:
    assert not read(ships(["Astrid Halvard", "9074729", 80]))[0].questions
    (told,) = problems(
        lambda: read(ships(["Astrid Halvard", "9074729", 300], heads=("Name", "IMO number", "Particulars: Beam [ft]")))
    )
    assert "is 91.44 m; allowed: 5 to 80 m" in told


@pytest.mark.parametrize("rows", [(["A", None, 30], ["A", "9074729", 31]), (["A", "9074729", 30], ["A", None, 31])])
def test_a_ship_that_one_row_numbers_and_another_only_names_is_listed_twice(rows: tuple[list[Any], ...]) -> None:
    (told,) = problems(lambda: read(ships(*rows)))
    assert "a second time, after row 2; keep one." in told


def test_two_ships_of_one_name_are_told_apart_by_their_numbers() -> None:
    told = problems(lambda: read(ships(["A", "9074729", 30], ["A", "9551973", 31])))
    assert not any("second time" in sentence for sentence in told)


def test_a_fifty_megabyte_file_is_refused_before_it_is_read() -> None:
    (told,) = problems(lambda: read_sheets(b"x" * 52_428_800, "big.csv"))
    assert told.startswith(f"big.csv holds 52,428,800 bytes; allowed: up to {LARGEST_FILE_BYTES:,}.")


def test_a_zip_bomb_is_refused_before_it_is_unpacked() -> None:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
        for number in range(10):
            packed.writestr(f"xl/worksheets/sheet{number}.xml", b"0" * 20_000_000)
    assert len(file.getvalue()) < 1_000_000
    (told,) = problems(lambda: read_sheets(file.getvalue(), "bomb.xlsx"))
    assert told.startswith("bomb.xlsx unpacks to 200,000,000 bytes in 10 parts; allowed: up to 60,000,000")


def test_entities_are_not_expanded() -> None:
    good = ships(["A", "9074729", 30])
    file = io.BytesIO()
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><x>&b;</x>'
    with zipfile.ZipFile(io.BytesIO(good)) as old, zipfile.ZipFile(file, "w") as new:
        for part in old.infolist():
            new.writestr(part, bomb if part.filename.startswith("xl/worksheets/") else old.read(part))
    (told,) = problems(lambda: read_sheets(file.getvalue(), "entities.xlsx"))
    assert "can't be read" in told


def test_a_sheet_that_claims_a_million_rows_is_not_walked_through() -> None:
    made = Workbook()
    made.active.title = "Ships"
    made.active["A1"] = "Name"
    made.active["A1048576"] = "Far below"
    file = io.BytesIO()
    made.save(file)
    (told,) = problems(lambda: read_sheets(file.getvalue(), "far.xlsx"))
    assert told.startswith("Ships has more than 5,000 rows.")


def test_the_template_says_what_is_allowed() -> None:
    workbook = load_workbook(io.BytesIO(xlsx_bytes(tables_of(ship_layout(), []))), read_only=True)
    assert workbook.sheetnames[0] == "Read me"
    columns = {row[1]: row for row in workbook["Columns"].iter_rows(values_only=True)}
    assert columns["Particulars: Beam [m]"][3] == "5 to 80"
    assert "head line" in columns["Place"][3]
    workbook.close()


@pytest.mark.parametrize(
    ("changes", "question"),
    [
        ({}, None),
        ({"summer_deadweight_t": 8_000.0, "length_overall_m": 390.0, "beam_m": 19.0, "summer_draught_m": 7.4}, "390.00 ft would be 118.87 m. Is it in feet?"),  # noqa: E501
        ({"beam_m": 75.0}, "Beam 75.00 m is unusual beside a deadweight of 47,500 t"),
        ({"summer_draught_m": 3.0}, "Summer draught 3.00 m is unusual beside a deadweight of 47,500 t. Is it right?"),
    ],
)  # fmt: skip
def test_odd_sizes_are_asked_about_and_not_refused(changes: dict[str, float], question: str | None) -> None:
    document = ship_document()
    document["particulars"] |= changes
    told = size_questions(ShipFacts.model_validate(document))
    assert (not told) if question is None else any(question in one for one in told)
