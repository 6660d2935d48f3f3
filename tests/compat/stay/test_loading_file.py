"""The loading file and its command; the steps themselves are checked by hand beside the calculation."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from compat.stay.loading import answer_loading, check_loading, loading_report
from shared.calc.errors import InputError
from shared.reading import DocumentError
from tests.compat.stays import shore_tank
from tests.compat.systems import arm


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


def test_every_hour_adds_up_and_tanks_end_at_their_stops() -> None:
    answer = answer_loading(check_loading(loading_document(), "x"))
    for row in answer.hourly:
        assert sum(row.tanks_m3) == pytest.approx(500.0 + row.loaded_m3, rel=1e-12)
        assert row.loaded_m3 + row.to_go_m3 == pytest.approx(answer.to_load_m3, rel=1e-12)
    assert answer.hourly[-1].tanks_m3 == pytest.approx((1960.0, 1960.0), rel=1e-12)
    assert any("No volume to be topped off is stated for 1P" in question for question in answer.questions)


def by_gravity(**changes: Any) -> dict[str, Any]:
    """A shore tank 20 m over the zero with a loss of K = 8 in one arm of 300 mm; the ship's tanks stay at 5 m."""
    source: dict[str, Any] = {
        "tank": shore_tank("T1", 1000.0, zero_elevation_m=10.0, level_m=10.0),
        "arms": [arm(1, 300.0, 0.0, 8.0)],
        "cargo": {"name": "Gas oil", "density_kg_per_m3": 845.0, "kinematic_viscosity_mm2_per_s": 4.0},
        "ship_surface_at_start_m": 5.0,
        "ship_surface_at_end_m": 5.0,
        "ship_gas_pressure_bar_gauge": 0.0,
    }
    stated = loading_document(shore_source={**source, **changes}, static_accumulator=False)
    del stated["shore_rate_m3_per_h"], stated["vent_capacity_m3_per_h"], stated["topping_off_rate_m3_per_h"]
    return stated


def test_gravity_gives_what_the_height_of_the_shore_tank_overcomes() -> None:
    """20 - V/1000 - 5 = 8 v²/2g in 300 mm, integrated over the 3,420 m³ as Torricelli has it."""
    answer = answer_loading(check_loading(by_gravity(), "gravity"))
    k = 8.0 / (2.0 * 9.80665 * (math.pi * 0.3**2 / 4.0) ** 2)
    exact = 2.0 * 1000.0 * math.sqrt(k) * (math.sqrt(15.0) - math.sqrt(15.0 - 3.42))
    assert answer.hours == pytest.approx(exact / 3600.0, rel=1e-6)
    assert {step.binding for step in answer.steps} == {"what gravity gives"}
    assert answer.steps[0].rate_m3_per_s == pytest.approx(math.sqrt(15.0 / k), rel=1e-6)


def test_shore_pumps_add_their_head() -> None:
    points = [{"flow_m3_per_h": flow, "head_m": 40.0 - 1e-5 * flow**2} for flow in (0.0, 500.0, 1000.0, 1500.0, 2000.0)]
    answer = answer_loading(check_loading(by_gravity(pump_points=points), "pumps"))
    k = 8.0 / (2.0 * 9.80665 * (math.pi * 0.3**2 / 4.0) ** 2)
    assert answer.steps[0].binding == "what the shore's pumps give"
    assert answer.steps[0].rate_m3_per_s == pytest.approx(math.sqrt(55.0 / (k + 1e-5 * 3600.0**2)), rel=2e-3)
    assert "what the shore's pumps give" in loading_report(answer)
    assert not any("curve" in question for question in answer.questions)
    short = answer_loading(check_loading(by_gravity(pump_points=points[:4]), "short"))
    assert any("the curve is stated up to 1,500 m³/h" in question for question in short.questions)


def test_a_shore_tank_that_runs_out_or_stands_too_low_is_named_with_its_hour(tmp_path: Path) -> None:
    low = answer_loading(check_loading(by_gravity(ship_surface_at_end_m=19.0), "low"))
    (problem,) = low.problems
    assert "what gravity gives is no flow any more" in problem.sentence
    assert f"{low.to_load_m3 - low.volume_m3:,.0f} m³ are still to come" in problem.sentence
    assert problem.hour == pytest.approx(low.hours)
    small = answer_loading(check_loading(by_gravity(tank=shore_tank("T1", 300.0, zero_elevation_m=10.0)), "small"))
    (problem,) = small.problems
    assert "shore tank T1 is empty: it held 600 m³" in problem.sentence
    assert small.volume_m3 == pytest.approx(600.0, rel=1e-6)
    file = tmp_path / "small.json"
    file.write_text(json.dumps(by_gravity(tank=shore_tank("T1", 300.0, zero_elevation_m=10.0))), encoding="utf-8")
    text = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("stay", str(file), stdout=text)
    assert ended.value.code == 3
    assert "Not to be ended: At hour" in text.getvalue()
    with pytest.raises(InputError, match="Nothing can be loaded any more with 0 m³ on board"):
        answer_loading(check_loading(by_gravity(ship_surface_at_start_m=30.0), "against the hill"))


def test_neither_rate_nor_source_is_refused() -> None:
    stated = loading_document()
    del stated["shore_rate_m3_per_h"]
    with pytest.raises(DocumentError, match="state shore_rate_m3_per_h, or shore_source"):
        check_loading(stated, "loading.json")


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
