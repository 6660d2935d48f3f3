"""``manage.py stay``: text, JSON, schema and exit status."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from django.core.management import call_command
from pydantic import ValidationError

from compat.stay.file import StayFile
from compat.stay.loading import LoadingFile
from tests.compat.stays import shore_tank, stay_document


def written(path: Path, **changes: object) -> Path:
    file = path / "stay.json"
    file.write_text(json.dumps(stay_document(**changes)), encoding="utf-8")
    return file


def test_text_and_json_tell_the_same(tmp_path: Path) -> None:
    file = written(tmp_path, allowed_h=30.0)
    text, data = io.StringIO(), io.StringIO()
    call_command("stay", str(file), stdout=text)
    call_command("stay", str(file), json=True, stdout=data)
    answer = json.loads(data.getvalue())
    assert answer["format"] == "berth-accord-stay-answer/1"
    assert f"{answer['hours']:.2f} h" in text.getvalue()
    assert len(answer["hourly"]) == int(answer["hours"]) + 2
    assert {variant["key"] for variant in answer["variants"]} == {"arm-1", "pressure", "pumps-1"}
    assert "where they are stricter than these figures, they win" in text.getvalue()


def test_schema_lists_the_keys_that_a_stay_has(tmp_path: Path) -> None:
    out = io.StringIO()
    call_command("stay", "--schema", stdout=out)
    schema = json.loads(out.getvalue())
    assert set(schema["properties"]) == set(StayFile.model_fields)
    with pytest.raises(ValidationError):
        StayFile.model_validate({"format": "berth-accord-stay/1"})


def test_status_tells_what_came_of_it(tmp_path: Path) -> None:
    errors, out = io.StringIO(), io.StringIO()
    with pytest.raises(SystemExit, match="3"):
        call_command("stay", str(written(tmp_path, shore_tanks=[shore_tank(full_at_m3=5000.0)])), stdout=out)
    assert "Not to be settled" in out.getvalue()
    with pytest.raises(SystemExit, match="2"):
        call_command("stay", str(written(tmp_path, cargo_tanks=[])), stderr=errors)
    assert "cargo_tanks has 0 entries; give at least 1." in errors.getvalue()
    with pytest.raises(SystemExit, match="2"):
        call_command("stay", stderr=errors)


def test_schema_of_the_loading_file() -> None:
    out = io.StringIO()
    call_command("stay", "--schema", "loading", stdout=out)
    assert set(json.loads(out.getvalue())["properties"]) == set(LoadingFile.model_fields)
