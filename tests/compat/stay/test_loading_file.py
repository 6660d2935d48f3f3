"""The loading file and its command; the steps themselves are checked by hand beside the calculation."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from compat.stay.loading import answer_loading, check_loading
from shared.reading import DocumentError


def loading_document(**changes: Any) -> dict[str, Any]:
    tank = {"inlet_bore_mm": 300.0, "capacity_m3": 2000.0, "stop_percent": 98.0, "covers_inlet_m3": 50.0}
    stated: dict[str, Any] = {
        "format": "berth-accord-loading/1",
        "title": "Gas oil into two tanks",
        "tanks": [{"key": "1P", **tank}, {"key": "1S", **tank, "volume_m3": 500.0, "topping_off_m3": 100.0}],
        "shore_rate_m3_per_h": 1200.0,
        "topping_off_rate_m3_per_h": 200.0,
        "vent_capacity_m3_per_h": 1250.0,
    }
    return {**stated, **changes}


def test_everything_up_to_the_stops_within_the_vents() -> None:
    answer = answer_loading(check_loading(loading_document(), "x"))
    assert answer.volume_m3 == pytest.approx(1960.0 + 1460.0)
    bulk = next(step for step in answer.steps if step.stage == "bulk")
    assert bulk.rate_m3_per_s * 3600.0 == pytest.approx(1000.0)
    assert bulk.binding == "vents at 1.25 times the rate"
    assert any("start rate" in question for question in answer.questions)


def test_the_command_prints_text_and_json(tmp_path: Path) -> None:
    file = tmp_path / "loading.json"
    file.write_text(json.dumps(loading_document()), encoding="utf-8")
    text, data = io.StringIO(), io.StringIO()
    call_command("stay", str(file), stdout=text)
    call_command("stay", str(file), json=True, stdout=data)
    answer = json.loads(data.getvalue())
    assert answer["format"] == "berth-accord-loading-answer/1"
    assert f"{answer['hours']:.2f} h" in text.getvalue()
    assert "they win" in text.getvalue()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"capacity_m3": 400.0, "volume_m3": 395.0}, "tank 1P: -3 m³ are left up to its stop"),
        ({"stop_percent": 99.0}, "allowed: 10 to 98.5 %"),
    ],
)
def test_refusals(change: dict[str, float], words: str) -> None:
    document = loading_document()
    document["tanks"][0] |= change
    with pytest.raises(DocumentError, match=words):
        check_loading(document, "loading.json")
