"""Bad input: each mistake gives exactly one sentence that names file, key, value, unit and what is allowed."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compat.case.answer import answer_case
from compat.case.case_file import (
    CaseFile,
    case_document,
    case_schema,
    check_case,
    parse_case,
    read_case,
)
from compat.case.least_power import ways_to_make
from compat.case.steps import steps_of
from compat.surge.limiting import answer_within_surge
from shared.reading import LARGEST_DOCUMENT_BYTES, DocumentError
from tests.compat.case.test_answer import freed, put
from tests.compat.systems import Document, alike, closed_form, document

ROOT = Path(__file__).resolve().parents[3]
SOUND = put(freed(document(alike(2))), "ship.cargo_tanks", {"bottom_elevation_m": 2.0, "top_elevation_m": 20.0})
SOUND_TEXT = json.dumps(SOUND)
CURVE = "ship.pumps.0.curves.0.points"


def points(*pairs: tuple[float, float]) -> list[Document]:
    """Return curve points (m³/h, m)."""
    return [{"flow_m3_per_h": flow, "head_m": head} for flow, head in pairs]


def without(path: str) -> Document:
    """Return the sound document without one key."""
    changed = put(SOUND, path, None)
    place: Any = changed
    *way, last = path.split(".")
    for part in way:
        place = place[int(part)] if part.isdigit() else place[part]
    del place[last]
    return changed


def problems(text: str) -> list[str]:
    """Return what is refused in the text of a case file."""
    with pytest.raises(DocumentError) as refused:
        parse_case(text, "night.json")
    return refused.value.problems


MISTAKES: dict[str, tuple[Document, str]] = {
    "curve that rises with flow": (
        put(SOUND, CURVE, points((0, 150), (500, 155), (900, 120))),
        (
            "ship.pumps[0].curves[0]: head does not fall from 150 m at 0 m³/h to 155 m at 500 m³/h; a curve that"
            " rises with flow has no single operating point: correct the points, or start after the hump."
        ),
    ),
    "duplicate points": (
        put(SOUND, CURVE, points((0, 150), (500, 140), (500, 130))),
        "ship.pumps[0].curves[0]: two points are given at 500 m³/h; keep one of them.",
    ),
    "points out of order": (
        put(SOUND, CURVE, points((0, 150), (500, 140), (400, 130))),
        "ship.pumps[0].curves[0]: the point at 400 m³/h stands after 500 m³/h; put the flows in rising order.",
    ),
    "a curve of one point": (
        put(SOUND, CURVE, points((0, 150))),
        "ship.pumps[0].curves[0].points has 1 entries; give at least 2.",
    ),
    "zero bore": (put(SOUND, "berth.arms.0.bore_mm", 0), "berth.arms[0].bore_mm is 0 mm; allowed: 10 to 3,000 mm."),
    "negative length": (
        put(SOUND, "berth.shore_line.1.length_m", -1500),
        "berth.shore_line[1].length_m is -1500 m; allowed: 0 to 200,000 m.",
    ),
    "ship's level above the top of her tanks": (
        put(SOUND, "operation.pumps.0.tank_surface_elevation_m", 21.5),
        (
            "operation.pumps: tank_surface_elevation_m of pump P1 is 21.5 m; allowed: 2 to 20 m above the keel"
            " (ship.cargo_tanks)."
        ),
    ),
    "shore level above the top of the tank": (
        put(
            SOUND,
            "berth.shore_end.tank",
            {"surface_elevation_m": 30, "gas_pressure_bar_gauge": 0, "top_elevation_m": 24},
        ),
        "berth.shore_end.tank: surface_elevation_m 30 m is above the tank's top at 24 m.",
    ),
    "density in t/m³": (
        put(SOUND, "cargo.density_kg_per_m3", 0.85),
        (
            "cargo.density_kg_per_m3 is 0.85 kg/m³; allowed: 500 to 1,200 kg/m³. Water is 1000 kg/m³; a density in"
            " t/m³ is to be multiplied by 1000."
        ),
    ),
    "viscosity in m²/s": (
        put(SOUND, "cargo.kinematic_viscosity_mm2_per_s", 1.2e-5),
        "cargo.kinematic_viscosity_mm2_per_s is 1.2e-05 mm²/s; allowed: 0.1 to 5,000 mm²/s.",
    ),
    "text in a number": (
        put(SOUND, "ship.pumps.1.rated_flow_m3_per_h", "2500 m3/h"),
        "ship.pumps[1].rated_flow_m3_per_h is '2500 m3/h', which is not a number; allowed: 0.1 to 100,000 m³/h.",
    ),
    "a number in quotation marks": (
        put(SOUND, "berth.shore_line.0.bore_mm", "600"),
        "berth.shore_line[0].bore_mm is '600', which is not a number; allowed: 10 to 3,000 mm.",
    ),
    "a count in quotation marks": (
        put(SOUND, "berth.arms.0.count", "2"),
        "berth.arms[0].count is '2', which is not a whole number.",
    ),
    "half an arm": (put(SOUND, "berth.arms.0.count", 2.5), "berth.arms[0].count is 2.5, which is not a whole number."),
    "true for a number": (
        put(SOUND, "keel_elevation_m", True),
        "keel_elevation_m is True, which is not a number; allowed: -500 to 2,000 m.",
    ),
    "a word for true": (
        put(SOUND, "operation.pumps.0.running", "yes"),
        "operation.pumps[0].running is 'yes'; write true or false.",
    ),
    "missing cargo": (without("cargo"), "cargo is missing; state it."),
    "missing elevation": (without("ship.manifold.elevation_m"), "ship.manifold.elevation_m is missing; state it."),
    "missing viscosity": (
        without("cargo.kinematic_viscosity_mm2_per_s"),
        (
            "cargo: kinematic_viscosity_mm2_per_s is missing; state it in mm²/s at the pumping temperature, or state"
            " laboratory values."
        ),
    ),
    "wrong format": (
        put(SOUND, "format", "berth-accord-case/9"),
        "format is 'berth-accord-case/9'; allowed: 'berth-accord-case/1'.",
    ),
    "a key that nobody knows": (
        put(SOUND, "cargo.densty_kg_per_m3", 850),
        "cargo.densty_kg_per_m3 is not a key that this document knows; correct its spelling or take it out.",
    ),
    "a pump that she does not have": (
        put(SOUND, "operation.pumps.0.pump", "P7"),
        "operation.pumps names pump P7, which the ship does not have; she has P1, P2.",
    ),
    "no pump running": (
        put(put(SOUND, "operation.pumps.0.running", False), "operation.pumps.1.running", False),
        "operation.pumps has no running pump; set running to true for at least one.",
    ),
    "a stated speed that is missing": (
        put(SOUND, "operation.speed", "as stated"),
        "operation.pumps: pump P1 runs as stated but has no speed_rpm; state its speed.",
    ),
    "a speed out of the pump's range": (
        put(
            put(document(alike(1)), "operation.pumps.0.speed_rpm", 1600.0),
            "ship.pumps.0.least_speed_rpm",
            700.0,
        ),
        "operation.pumps: speed_rpm of pump P1 is 1600 rpm; allowed: 700 to 1500 rpm.",
    ),
    "a free speed without an agreed pressure": (
        put(SOUND, "agreed", {}),
        (
            "agreed.manifold_pressure_bar_gauge is missing; a free speed needs it. State the agreed pressure, or state"
            " the speeds."
        ),
    ),
    "least speed above greatest": (
        put(SOUND, "ship.pumps.0.least_speed_rpm", 1600.0),
        "ship.pumps[0]: least_speed_rpm 1600 rpm is above greatest_speed_rpm 1500 rpm.",
    ),
    "no arms": (put(SOUND, "berth.arms", []), "berth.arms has 0 entries; give at least 1."),
    "text for a whole ship": (
        put(SOUND, "ship", "Marlis"),
        "ship is 'Marlis'; allowed: an object with keys of its own, in braces.",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_each_mistake_gives_one_sentence(mistake: str) -> None:
    stated, sentence = MISTAKES[mistake]
    assert problems(json.dumps(stated)) == [f"night.json: {sentence}"]


def test_two_kinds_of_shore_end_give_one_sentence() -> None:
    (sentence,) = problems(json.dumps(put(SOUND, "berth.shore_end.back_pressure_bar_gauge", 3.0)))
    assert sentence.startswith("night.json: berth.shore_end: state the receiving tank")


TEXTS: dict[str, tuple[str, str]] = {
    "cut short": (
        SOUND_TEXT[:700],
        "night.json is not whole JSON: line 1, column 700: Unterminated string starting at. Was it cut short?",
    ),
    "empty": ("", "night.json is not whole JSON: line 1, column 1: Expecting value. Was it cut short?"),
    "not a number": (
        SOUND_TEXT.replace("850.0", "NaN"),
        "night.json: NaN is not a finite number; write a number.",
    ),
    "infinity": (
        SOUND_TEXT.replace("850.0", "-Infinity"),
        "night.json: -Infinity is not a finite number; write a number.",
    ),
    "too great for a number": (
        SOUND_TEXT.replace("850.0", "1e999"),
        (
            "night.json: cargo.density_kg_per_m3 is inf, which is not a finite number; allowed: 500 to 1,200 kg/m³."
            " Water is 1000 kg/m³; a density in t/m³ is to be multiplied by 1000."
        ),
    ),
    "endless digits": (
        SOUND_TEXT.replace("850.0", "9" * 5000),
        "night.json: 99999999999999999999… is a number of 5000 digits; write at most 300.",
    ),
    "duplicate keys": (
        SOUND_TEXT.replace('"density_kg_per_m3": 850.0', '"density_kg_per_m3": 850.0, "density_kg_per_m3": 900.0'),
        "night.json: key density_kg_per_m3 is given twice in one object; keep one of them.",
    ),
    "deep nesting": ("[" * 200_000 + "]" * 200_000, "night.json is nested too deeply to be a case file."),
    "deep objects": ('{"ship":' * 50_000, "night.json is nested too deeply to be a case file."),
    "a list": (
        "[1, 2, 3]",
        "night.json holds no JSON object; a case file starts with { and names its format.",
    ),
}


@pytest.mark.parametrize("mistake", TEXTS)
def test_each_broken_text_gives_one_sentence(mistake: str) -> None:
    text, sentence = TEXTS[mistake]
    assert text != SOUND_TEXT
    assert problems(text) == [sentence]


def refused_file(path: Path) -> list[str]:
    """Return what is refused in a file."""
    with pytest.raises(DocumentError) as refused:
        read_case(path)
    return refused.value.problems


def test_ten_megabytes_of_rubbish_are_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "rubbish.json"
    path.write_bytes(os.urandom(10_000_000))
    assert refused_file(path) == [
        f"rubbish.json holds 10,000,000 bytes; allowed: up to {LARGEST_DOCUMENT_BYTES:,}. Is it the right file?"
    ]


def test_files_that_are_no_text_or_not_there(tmp_path: Path) -> None:
    binary = tmp_path / "binary.json"
    binary.write_bytes(b"\x89PNG\r\n\x1a\n" + os.urandom(300))
    assert refused_file(binary) == ["binary.json is not UTF-8 text (byte 0). Is it the right file?"]
    assert refused_file(tmp_path / "gone.json") == ["gone.json can't be read: No such file or directory."]
    assert refused_file(tmp_path)[0].endswith("can't be read: Is a directory.")


def test_a_mark_that_some_editors_put_before_the_text_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "marked.json"
    path.write_bytes(b"\xef\xbb\xbf" + SOUND_TEXT.encode())
    assert read_case(path) == check_case(SOUND, "sound")


def test_several_mistakes_give_a_sentence_each() -> None:
    stated = put(put(SOUND, "berth.arms.0.bore_mm", 0), "cargo.density_kg_per_m3", 0.85)
    found = problems(json.dumps(stated))
    assert len(found) == 2
    assert any("bore_mm is 0 mm" in sentence for sentence in found)
    assert any("density_kg_per_m3 is 0.85 kg/m³" in sentence for sentence in found)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
PLACES = [
    "format", "title", "ship", "ship.pumps", "ship.pumps.0.curves", CURVE, "ship.pumps.0.key", "ship.manifold", "cargo",
    "cargo.name", "berth", "berth.arms", "berth.arms.0.count", "berth.shore_end", "berth.shore_line.0.length_m",
    "keel_elevation_m", "operation", "operation.speed", "operation.pumps.0.running", "agreed", "own_limits",
]  # fmt: skip


@given(st.sampled_from(PLACES), json_values)
@settings(max_examples=300)
def test_whatever_stands_in_a_place_is_taken_or_refused_in_sentences(place: str, value: Any) -> None:
    try:
        case = check_case(put(SOUND, place, value), "night.json")
    except DocumentError as error:
        for sentence in error.problems:
            assert sentence.startswith("night.json: ")
            assert sentence.endswith(".")
            assert "pydantic" not in sentence
            assert len(sentence) < 400
    else:
        assert isinstance(case, CaseFile)


@given(st.integers(0, len(SOUND_TEXT) - 1))
def test_a_text_cut_anywhere_is_refused_in_one_sentence(length: int) -> None:
    assert len(problems(SOUND_TEXT[:length])) == 1


@given(st.binary(max_size=200))
def test_random_bytes_are_refused_in_one_sentence(tmp_path_factory: pytest.TempPathFactory, rubbish: bytes) -> None:
    path = tmp_path_factory.mktemp("rubbish") / "rubbish.json"
    path.write_bytes(rubbish)
    assert len(refused_file(path)) == 1


def test_a_limit_below_the_static_pressure_is_an_answer_with_a_reason() -> None:
    answer = answer_case(check_case(freed(closed_form(2), 2.0), "case"))
    assert answer.outcome == "no operating point"
    assert answer.reason == (
        "The agreed manifold pressure of 2 bar is below the 2.50 bar that the shore holds against the manifold at rest;"
        " agree a higher pressure or a lower shore tank."
    )


def test_a_case_reads_back_as_it_was_written() -> None:
    case = check_case(SOUND, "sound")
    assert parse_case(json.dumps(case_document(case)), "again") == case


def test_the_schema_names_a_unit_for_every_quantity() -> None:
    """A number whose key ends in a unit states that unit with its range."""
    schema = case_schema()
    assert schema["properties"]["format"]["const"] == "berth-accord-case/1"
    numbers = [
        (name, part)
        for definition in schema["$defs"].values()
        for name, whole in definition.get("properties", {}).items()
        for part in [whole, *whole.get("anyOf", [])]
        if part.get("type") == "number"
    ]
    assert len(numbers) > 40
    for name, part in numbers:
        assert {"unit", "minimum", "maximum"} <= part.keys(), name


def assess(tmp_path: Path, text: str, *options: str) -> subprocess.CompletedProcess[str]:
    """Run the command on a text."""
    path = tmp_path / "night.json"
    path.write_text(text, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "manage.py", "assess", str(path), *options],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


def test_the_command_answers_with_status_0_and_the_same_numbers(tmp_path: Path) -> None:
    done = assess(tmp_path, SOUND_TEXT, "--json", "--surge")
    assert done.returncode == 0
    assert done.stderr == ""
    case = check_case(SOUND, "night.json")
    answer = answer_within_surge(case).answer
    printed = json.loads(done.stdout)
    own = answer.document()
    assert {key: printed[key] for key in own} == own
    assert printed["steps"] == [asdict(step) for step in steps_of(case, answer)]
    assert printed["ways"]["reason"] == ways_to_make(case, answer).reason
    assert printed["spread"] is None


def test_the_command_refuses_bad_input_with_status_2_and_the_sentence(tmp_path: Path) -> None:
    stated, sentence = MISTAKES["zero bore"]
    done = assess(tmp_path, json.dumps(stated))
    assert done.returncode == 2
    assert done.stderr.strip() == f"night.json: {sentence}"
    assert done.stdout == ""


def test_the_command_says_that_there_is_no_operating_point_with_status_3(tmp_path: Path) -> None:
    done = assess(tmp_path, json.dumps(closed_form(2, speeds=500.0)))
    assert done.returncode == 3
    assert "37.5 m" in done.stdout
    assert "Traceback" not in done.stderr
