"""What a stay tells: hours, gauges, tanks, water, problems with their hour, other plans."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from compat.case.answer import answer_case
from compat.stay.file import check_stay
from compat.stay.outcome import answer_stay
from compat.stay.parts import StayAnswer
from compat.stay.variants import answer_with_variants
from shared.reading import DocumentError
from tests.compat.stays import (
    Document,
    box_table,
    cargo_tank,
    floating_water,
    shore_tank,
    stay_document,
    stripping_pump,
)


def answered(**changes: Any) -> StayAnswer:
    return answer_stay(check_stay(stay_document(**changes), "test"))


def refused(document: Document) -> str:
    with pytest.raises(DocumentError) as caught:
        check_stay(document, "stay.json")
    return "\n".join(caught.value.problems)


def test_stages_follow_each_other_and_carry_all_the_volume() -> None:
    answer = answered()
    assert answer.outcome == "planned"
    assert [stage.name for stage in answer.stages] == ["line filling", "ramp", "bulk", "stripping", "line clearing"]
    for one, other in zip(answer.stages, answer.stages[1:], strict=False):
        assert other.begins_h == pytest.approx(one.ends_h, rel=1e-9)
    assert sum(stage.volume_m3 for stage in answer.stages) == pytest.approx(6 * 3750.0 - 6 * 5.0, rel=1e-9)
    for stage in answer.stages:
        assert stage.inert_gas_m3_per_h == pytest.approx(1.25 * stage.greatest_rate_m3_per_h)
    assert answer.hours == pytest.approx(sum(stage.hours for stage in answer.stages), rel=1e-9)


def test_a_start_rate_that_is_all_but_nil_fills_the_line_for_as_long_as_it_says() -> None:
    """The line holds the same however slowly it is filled: π/4 (0.4890² 850 + 0.5900² 2400) and the arms' 2.5 m³."""
    hours = {}
    for rate in (0.5, 1.0, 200.0):
        document = stay_document()
        document["case"]["agreed"]["start_rate_m3_per_h"] = rate
        filling = answer_stay(check_stay(document, "test")).stages[0]
        hours[rate] = filling.hours
    volume = np.pi / 4 * (0.489**2 * 850 + 0.59**2 * 2400 + 2 * 0.2545**2 * 25)
    assert hours[0.5] == pytest.approx(2 * hours[1.0], rel=1e-6)
    assert hours[200.0] * 200.0 == pytest.approx(volume, rel=0.02)


def test_a_table_with_an_entry_that_states_nothing_is_a_sentence() -> None:
    document = stay_document()
    document["cargo_tanks"][0]["table"][1] = {"level_m": None, "volume_m3": 4250.0}
    assert "state level_m in every entry" in refused(document)


def test_hourly_gauges_are_those_of_the_same_moment_assessed_alone() -> None:
    """The assessment of a single moment is checked against EPANET elsewhere."""
    document = stay_document()
    row = answered().hourly[5]
    case = check_stay(document, "x").case
    tank = case.berth.shore_end.tank
    assert tank is not None
    assert row.draught_m is not None
    assert row.water_level_m is not None
    assert row.receiver_surface_m is not None
    level = 2.1 + row.tanks[0].level_m
    states = [state.model_copy(update={"tank_surface_elevation_m": level}) for state in case.operation.pumps]
    shore = case.berth.shore_end.model_copy(
        update={"tank": tank.model_copy(update={"surface_elevation_m": row.receiver_surface_m})}
    )
    moment = case.model_copy(
        update={
            "keel_elevation_m": row.water_level_m - row.draught_m,
            "operation": case.operation.model_copy(update={"pumps": states}),
            "berth": case.berth.model_copy(update={"shore_end": shore}),
        }
    )
    alone = answer_case(moment)
    assert row.rate_m3_per_h == pytest.approx(alone.total_flow_m3_per_h, rel=1e-6)
    assert row.manifold_pressure_bar_gauge == pytest.approx(alone.manifold_pressure_bar_gauge, abs=1e-5)
    reading = next(pump for pump in alone.pumps if pump.pump == "P1")
    assert row.pumps[0].speed_rpm == pytest.approx(reading.speed_rpm, rel=1e-6)
    assert row.pumps[0].suction_pressure_bar_gauge == pytest.approx(reading.suction_pressure_bar_gauge, abs=1e-5)
    assert row.pumps[0].discharge_pressure_bar_gauge == pytest.approx(reading.discharge_pressure_bar_gauge, abs=1e-5)


def test_what_has_left_the_tanks_is_ashore_at_every_hour() -> None:
    for row in answered().hourly:
        aboard = sum(tank.volume_m3 for tank in row.tanks)
        assert aboard + row.ashore_m3 == pytest.approx(6 * 3750.0, rel=1e-9)
        assert row.receiver_m3 == pytest.approx(4800.0 + row.ashore_m3, rel=1e-9)
        assert row.to_go_m3 == pytest.approx(6 * 3750.0 - 30.0 - row.ashore_m3, abs=1e-5)


def test_the_ship_rises_by_what_leaves_her() -> None:
    """22,470 m³ of 845 kg/m³ at about 50 t/cm: 22,470 * 0.845 / 50 = 380 cm, a little less deeper down."""
    first, last = answered().hourly[0], answered().hourly[-1]
    assert first.draught_m == pytest.approx(12.0)
    assert last.draught_m is not None
    assert 12.0 - last.draught_m == pytest.approx(22_470 * 0.845 / 50.2 / 100.0, abs=0.03)
    assert last.freeboard_m == pytest.approx(18.0 - last.draught_m)
    assert last.manifold_elevation_m == pytest.approx((last.water_level_m or 0.0) - last.draught_m + 20.5)
    assert last.under_keel_m == pytest.approx(14.0 + (last.water_level_m or 0.0) - last.draught_m)


def test_trim_follows_from_levers_and_the_moment_to_change_it() -> None:
    """3,745 m³ of 845 kg/m³ out of each: the sum of mass times lever over the moment to change trim by a centimetre."""
    tanks = [cargo_tank("F", lever_m=60.0), cargo_tank("A", lever_m=-50.0)]
    draws = [{"pumps": ["P1", "P2"], "tanks": ["F", "A"], "order": "in sequence"}]
    water = floating_water(trim_m=0.5, trim_moment_t_m_per_cm=600.0)
    answer = answered(cargo_tanks=tanks, draws=draws, water=water)
    row = answer.hourly[-1]
    gone = 3745.0 * 0.845 * (60.0 - 50.0)
    assert row.trim_m == pytest.approx(0.5 + gone / 600.0 / 100.0, rel=1e-6)


def test_ballast_taken_aft_trims_by_the_stern_and_the_deeper_end_has_less_water() -> None:
    """9,000 t taken 20 m aft of the centre of flotation over 600 t·m/cm: 3.00 m more by the stern."""
    ballast = [{"begins_h": 1.0, "ends_h": 3.0, "mass_t": 9000.0, "lever_m": -20.0}]
    water = floating_water(trim_m=0.5, trim_moment_t_m_per_cm=600.0, ballast=ballast, draught_m=11.0)
    tanks = [cargo_tank("A", lever_m=0.0)]
    row = answered(cargo_tanks=tanks, draws=[], water=water).hourly[-1]
    assert row.trim_m == pytest.approx(0.5 + 9000.0 * 20.0 / 600.0 / 100.0, rel=1e-9)
    assert row.draught_m is not None
    assert row.water_level_m is not None
    deepest = row.draught_m + row.trim_m / 2.0
    assert row.under_keel_m == pytest.approx(14.0 + row.water_level_m - deepest, rel=1e-9)
    unknown = floating_water(trim_m=0.5, trim_moment_t_m_per_cm=600.0, ballast=[{**ballast[0], "lever_m": None}])
    silent = answered(cargo_tanks=tanks, draws=[], water=unknown)
    assert silent.hourly[-1].trim_m is None
    assert any("lever is not stated" in question for question in silent.questions)


def test_trim_that_takes_the_water_from_under_the_deeper_end_is_named_with_its_hour() -> None:
    ballast = [{"begins_h": 1.0, "ends_h": 3.0, "mass_t": 9000.0, "lever_m": -60.0}]
    water = floating_water(trim_m=0.0, trim_moment_t_m_per_cm=600.0, ballast=ballast, draught_m=11.0, tide=[])
    (problem,) = answered(cargo_tanks=[cargo_tank("A", lever_m=0.0)], draws=[], water=water).problems
    assert "too little water under the keel" in problem.sentence
    assert 1.0 < problem.hour < 3.0


def test_ullages_are_shown_as_they_are_read_on_the_trim() -> None:
    """An ullage of 3.20 m read on a trim of 0.8 m is 3.20 m again at the start, whatever its table corrects."""
    corrections = [{"trim_m": 0.0, "level_correction_m": 0.0}, {"trim_m": 2.0, "level_correction_m": -0.25}]
    tank = cargo_tank("A", lever_m=0.0, trim_corrections=corrections, ullage_m=3.2)
    del tank["level_m"]
    water = floating_water(trim_m=0.8, trim_moment_t_m_per_cm=600.0)
    (first, *_) = answered(cargo_tanks=[tank], draws=[], water=water).hourly
    assert first.tanks[0].ullage_m == pytest.approx(3.2, rel=1e-12)
    assert first.tanks[0].level_m == pytest.approx(18.0 - 3.2 - 0.1, rel=1e-12)


def test_tanks_in_sequence_are_named_as_pumps_go_on_to_them() -> None:
    draws = [{"pumps": ["P1", "P2"], "tanks": ["1P", "1S", "2P", "2S", "3P", "3S"], "order": "in sequence"}]
    told = [one.what for one in answered(draws=draws).changes if one.what.startswith("pumps")]
    assert told == [
        *(f"pumps P1, P2 go on to {key}" for key in ("1S", "2P", "2S", "3P", "3S")),
        "pumps P1, P2 taken off",
    ]


def test_arms_that_lose_reach_are_named_with_the_hour() -> None:
    answer = answered(water=floating_water(greatest_manifold_elevation_m=13.8))
    assert answer.outcome == "not to be settled"
    (problem,) = answer.problems
    assert "above the arms' reach" in problem.sentence
    before, after = (row for row in answer.hourly if abs(row.hour - problem.hour) < 1.0)
    assert before.manifold_elevation_m < 13.8 < after.manifold_elevation_m


def test_too_little_water_under_the_keel_is_named_at_its_hour() -> None:
    document = stay_document(water=floating_water(least_under_keel_m=5.0))
    answer = answer_stay(check_stay(document, "x"))
    assert answer.problems[0].hour == 0.0
    assert "under the keel" in answer.problems[0].sentence


def test_more_cargo_than_the_shore_holds_is_named_with_the_hour_it_is_full() -> None:
    answer = answered(shore_tanks=[shore_tank(full_at_m3=4800.0 + 10_000.0)])
    assert answer.outcome == "not to be settled"
    assert "receiving tanks are full with 12,470 m³" in answer.problems[0].sentence
    assert answer.problems[0].hour == pytest.approx(answer.hours)
    assert answer.ashore_m3 == pytest.approx(10_000.0)


def test_a_second_shore_tank_takes_over_when_the_first_is_full() -> None:
    answer = answered(shore_tanks=[shore_tank("T1", full_at_m3=14_800.0), shore_tank("T2")])
    assert answer.outcome == "planned"
    assert {row.receiver for row in answer.hourly} == {"T1", "T2"}
    assert any(change.what == "receiving tank T1 is full" for change in answer.changes)


def test_a_stop_longer_than_the_stay_and_one_after_its_end() -> None:
    stops = [
        {"reason": "repairs", "begins_h": 4.0, "lasts_h": 60.0},
        {"reason": "late", "begins_h": 400.0, "lasts_h": 1},
    ]
    answer = answered(stops=stops, water={})
    sentences = " ".join(problem.sentence for problem in answer.problems)
    assert "“repairs” at hour 4.00 lasts 60 h, longer than the whole discharge" in sentences
    assert "“late” begins at hour 400, after the end" in sentences


def test_a_tide_that_ends_before_the_stay_does() -> None:
    water = floating_water()
    water["tide"] = water["tide"][:3]
    answer = answered(water=water)
    assert any("The tide is stated from hour -3.10 to 9.30" in one.sentence for one in answer.problems)


def test_washing_machines_that_get_too_little_pressure() -> None:
    washing = [{"begins_h": 3.0, "lasts_h": 1.0, "flow_m3_per_h": 200.0, "least_pressure_bar_gauge": 10.0}]
    answer = answered(stages={"washing": washing})
    (problem,) = answer.problems
    assert problem.hour == pytest.approx(3.0, abs=0.01)
    assert "machines need 10 bar" in problem.sentence


def test_what_is_refused_before_anything_is_worked_out() -> None:
    twice = stay_document()
    twice["cargo_tanks"].append(cargo_tank("1P"))
    assert "cargo_tanks: tank 1P is given twice" in refused(twice)
    falling = stay_document()
    falling["cargo_tanks"][0]["table"] = [*box_table(), {"level_m": 18.0, "volume_m3": 100.0}]
    assert "The volume does not rise from 4250 m³ at 17 m to 100 m³ at 18 m" in refused(falling)
    order = stay_document()
    order["water"]["tide"][2]["at_h"] = 1.0
    assert "water: The water at hour 1 stands after hour 3.1; put the tide times in order." in refused(order)
    unknown = stay_document(draws=[{"pumps": ["P1"], "tanks": ["9X"]}])
    assert "draws names 9X, which is not among the cargo tanks" in refused(unknown)
    over = stay_document(cargo_tanks=[cargo_tank("1P", level_m=40.0)], draws=[])
    assert "tank 1P: The level 40 m is outside the table; allowed: 0 to 17 m." in refused(over)


def test_what_is_not_known_is_asked_for_and_never_filled_in() -> None:
    document = stay_document(shore_tanks=[], water={}, stages={})
    document["case"]["agreed"].pop("start_rate_m3_per_h")
    answer = answer_stay(check_stay(document, "bare"))
    asked = " ".join(answer.questions)
    for words in (
        "start rate",
        "shore tank tables",
        "Stripping",
        "draughts",
        "tide",
        "reach of the arms",
        "under-keel",
    ):
        assert words in asked
    assert [stage.name for stage in answer.stages] == ["bulk"]
    assert answer.hourly[0].draught_m is None
    assert answer.hourly[0].under_keel_m is not None


def test_an_eductor_strips_and_what_drives_it_is_asked_for() -> None:
    """It lifts what its curve gives, here more than the 150 m³/h of the other stripping pump."""
    curve = [{"flow_m3_per_h": flow, "head_m": head} for flow, head in ((0.0, 60.0), (150.0, 40.0), (300.0, 10.0))]
    eductor = stripping_pump("E1") | {"name": "Eductor", "kind": "eductor", "least_speed_rpm": 1000.0}
    eductor |= {"greatest_speed_rpm": 1000.0, "curves": [{"speed_rpm": 1000.0, "points": curve}]}
    document = stay_document(stages={"stripping": {"pump": "E1"}})
    document["case"]["ship"]["pumps"].append(eductor)
    answer = answer_stay(check_stay(document, "stripped"))
    assert 150.0 < answer.stages[-1].mean_rate_m3_per_h < 300.0
    assert any("Eductor strips, driven from elsewhere" in question for question in answer.questions)
    state = {"tank_surface_elevation_m": 3.0, "tank_gas_pressure_bar_gauge": 0.05}
    document["case"]["operation"]["pumps"].append({"pump": "E1", "running": True, **state})
    beside = answer_stay(check_stay(document, "beside"))
    assert any("Eductor runs beside the pumps" in question for question in beside.questions)


def efficient(**changes: Any) -> Document:
    document = stay_document(stages={}, **changes)
    for pump in document["case"]["ship"]["pumps"][:2]:
        for point in pump["curves"][0]["points"]:
            point["efficiency_percent"] = 75.0
    return document


def test_a_straight_consumption_curve_gives_what_a_constant_gives() -> None:
    curve = [{"power_kw": power, "fuel_kg_per_h": 0.25 * power} for power in (0.0, 500.0, 4000.0)]
    constant = answer_stay(check_stay(efficient(pump_fuel_kg_per_kwh=0.25), "constant"))
    by_curve = answer_stay(check_stay(efficient(pump_fuel_curve=curve), "curve"))
    assert constant.fuel_t is not None
    assert by_curve.fuel_t == pytest.approx(constant.fuel_t, rel=1e-12)


def test_beyond_the_consumption_curve_fuel_is_not_known_and_asked_for() -> None:
    curve = [{"power_kw": 0.0, "fuel_kg_per_h": 20.0}, {"power_kw": 300.0, "fuel_kg_per_h": 90.0}]
    answer = answer_stay(check_stay(efficient(pump_fuel_curve=curve), "short"))
    assert answer.fuel_t is None
    assert any("add those points to pump_fuel_curve" in question for question in answer.questions)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"pump_fuel_curve": [{"power_kw": 0.0, "fuel_kg_per_h": 20.0}]}, "pump_fuel_curve has 1 entry"),
        ({"pump_fuel_curve": [{"power_kw": p, "fuel_kg_per_h": 9.0} for p in (5.0, 5.0)]}, "put them in rising order"),
        (
            {
                "pump_fuel_curve": [{"power_kw": p, "fuel_kg_per_h": p} for p in (0.0, 9.0)],
                "pump_fuel_kg_per_kwh": 0.2,
            },
            "keep one of them",
        ),
    ],
)
def test_a_consumption_that_does_not_read_is_refused(changes: Document, sentence: str) -> None:
    assert sentence in refused(stay_document(**changes))


def test_fuel_and_work_of_the_shafts() -> None:
    """Work is power over time: with a constant efficiency, rho g Q H / eta summed over the hours."""
    document = stay_document(stages={}, pump_fuel_kg_per_kwh=0.25)
    document["case"]["agreed"].pop("start_rate_m3_per_h")
    for pump in document["case"]["ship"]["pumps"][:2]:
        for point in pump["curves"][0]["points"]:
            point["efficiency_percent"] = 75.0
    answer = answer_stay(check_stay(document, "fuel"))
    rows = answer.hourly
    heads = [
        [(p.discharge_pressure_bar_gauge - p.suction_pressure_bar_gauge) * 1e5 / (845.0 * 9.80665) for p in row.pumps]
        for row in rows
    ]
    power = [
        sum(845.0 * 9.80665 * p.flow_m3_per_h / 3600.0 * h / 0.75 for p, h in zip(row.pumps, head, strict=True)) / 1e3
        for row, head in zip(rows, heads, strict=True)
    ]
    work = np.trapezoid(power, [row.hour for row in rows])
    assert answer.stages[0].shaft_energy_kwh == pytest.approx(work, rel=2e-3)
    assert answer.fuel_t == pytest.approx(0.25 * (answer.stages[0].shaft_energy_kwh or 0.0) / 1000.0)


def test_other_plans_stand_beside_the_first() -> None:
    document = stay_document(stages={})
    document["case"]["agreed"] = {"manifold_pressure_bar_gauge": 5.0}
    first, variants = answer_with_variants(check_stay(document, "x"))
    saved = {variant.key: variant.hours_saved for variant in variants}
    assert set(saved) == {"arm-1", "pressure", "pumps-1"}
    assert saved["pressure"] is not None
    assert saved["pressure"] > 0.3
    assert saved["pumps-1"] is not None
    assert saved["pumps-1"] < 0
    alone = answer_stay(check_stay(document, "x"))
    assert first.hours == pytest.approx(alone.hours, rel=1e-6)


def test_two_parcels_one_after_the_other_to_tanks_of_their_own() -> None:
    cargo = {"name": "Naphtha", "density_kg_per_m3": 720.0, "kinematic_viscosity_mm2_per_s": 0.8}
    parcels = [
        {"name": "Gas oil", "tanks": ["1P", "1S", "2S", "3P"], "shore_tanks": ["T1"]},
        {"name": "Naphtha", "cargo": cargo, "tanks": ["2P", "3S"], "shore_tanks": ["T2"]},
    ]
    answer = answered(
        parcels=parcels,
        shore_tanks=[shore_tank("T1"), shore_tank("T2")],
        stages={"stripping": {"rate_m3_per_h": 200.0}, "between_parcels_h": 1.0},
    )
    assert answer.outcome == "planned"
    assert answer.ashore_m3 == pytest.approx(6 * 3745.0)
    names = [(stage.name, stage.parcel) for stage in answer.stages]
    assert ("bulk", "Naphtha") in names
    assert any(name.startswith("change of line-up") for name, _ in names)
    last = answer.hourly[-1]
    assert sum(tank.volume_m3 for tank in last.tanks) == pytest.approx(6 * 5.0, abs=1e-4)
