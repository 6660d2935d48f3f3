"""A discharge over time against closed forms and an independent integration (scipy's solve_ivp)."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from compat.calc.stay.march import POINTS, STEP_S, march
from compat.calc.stay.track import Track, matrix_at, part_at
from compat.case.answer import answer_case
from compat.stay.file import StayFile, check_stay
from compat.stay.planning import planned, to_leave_m3
from tests.compat.stays import BOX_AREA_M2, Document, cargo_tank, floating_water, stay_document
from tests.compat.systems import arm, coefficients, document, pipe, pump

G = 9.80665


def tracked(*files: StayFile, step_s: float = STEP_S, points: int = POINTS) -> list[Track]:
    plan = planned(files)
    return march(plan.circuit, plan.stays, step_s, points)


def bulk_only(**changes: Any) -> Document:
    """No start rate, no stripping: bulk discharge alone."""
    stated = stay_document(**{"stages": {}, **changes})
    stated["case"]["agreed"] = {"manifold_pressure_bar_gauge": 8.0}
    return stated


def test_prismatic_tank_at_constant_rate() -> None:
    """Six boxes of 250 m² from 15 m to 1 m at 1,000 m³/h take 21 h, whatever the tide does."""
    stated = bulk_only()
    stated["case"]["berth"]["receiving_rate_m3_per_h"] = 1000.0
    (track,) = tracked(check_stay(stated, "constant"))
    assert track.ends_s / 3600.0 == pytest.approx(6 * BOX_AREA_M2 * 14.0 / 1000.0, rel=1e-9)
    assert track.time_at(10_500.0) / 3600.0 == pytest.approx(10.5, rel=1e-9)


def quadratic_stay() -> tuple[Document, float, float]:
    """A pump and pipes whose losses go with the square of the flow, at a fixed speed: Q = sqrt(head / k)."""
    shut_off, at_flow = 60.0, (1000.0, 45.0)
    curve = coefficients(shut_off, at_flow, 2.0, 1200.0)
    riser, bore, loss = pipe(0, 400, 6.0), 300.0, 8.0
    stated = document(
        [pump("P1", curve, suction_line=[], discharge_line=[riser])],
        speeds=[1200.0],
        arms=[arm(1, bore, 0.0, loss)],
        shore=[],
        common=[],
    )
    stated["operation"]["speed"] = "as stated"
    stated["agreed"] = {}
    stated["cargo"].pop("vapour_pressure_kpa_abs", None)
    per_flow2 = (shut_off - at_flow[1]) / (at_flow[0] / 3600.0) ** 2
    for k, d in ((6.0, 0.4), (loss, 0.3)):
        per_flow2 += k / (2 * G * (math.pi * d**2 / 4) ** 2)
    return stated, shut_off, per_flow2


def test_emptying_with_the_square_root_of_the_head_as_torricelli_has_it() -> None:
    """A dh/dt = -sqrt((a + h + c)/k) gives t = 2 A sqrt(k) (sqrt(H0) - sqrt(H1))."""
    case, shut_off, k = quadratic_stay()
    stay = {
        "format": "berth-accord-stay/1",
        "case": case,
        "cargo_tanks": [cargo_tank("1", pumps_off_below_m=0.5)],
    }
    file = check_stay(stay, "torricelli")
    (track,) = tracked(file)
    tank, state = case["berth"]["shore_end"]["tank"], case["operation"]["pumps"][0]
    weight = case["cargo"]["density_kg_per_m3"] * G
    shore = tank["surface_elevation_m"] + tank["gas_pressure_bar_gauge"] * 1e5 / weight
    ship = case["keel_elevation_m"] + 2.1 + state["tank_gas_pressure_bar_gauge"] * 1e5 / weight
    high, low = (shut_off + ship + level - shore for level in (15.0, 0.5))
    exact = 2.0 * BOX_AREA_M2 * math.sqrt(k) * (math.sqrt(high) - math.sqrt(low))
    assert track.failure is None
    assert track.ends_s == pytest.approx(exact, rel=1e-6)
    for share in (0.25, 0.5, 0.75):
        level = 15.0 - share * 14.5
        part = 2.0 * BOX_AREA_M2 * math.sqrt(k) * (math.sqrt(high) - math.sqrt(shut_off + ship + level - shore))
        assert track.time_at(share * 14.5 * BOX_AREA_M2) == pytest.approx(part, rel=1e-6)


def by_solve_ivp(file: StayFile) -> tuple[Any, float]:
    """Integrate levels in time with answers to single cases; tanks of a draw are boxes with one surface."""
    ship, water, case = file.floating(), file.water, file.case
    tide = file.tide()
    assert ship is not None
    assert tide is not None
    density = case.cargo.density_kg_per_m3 or 0.0
    full = ship.displacement(water.draught_m or 0.0, 1025.0)
    area, base = 3 * BOX_AREA_M2, 2.1

    def flows(time: float, levels: np.ndarray) -> np.ndarray:
        gone = float(((15.0 - levels) * area).sum())
        draught = float(ship.draught(np.array([full - gone * density]), 1025.0)[0])
        states = [
            state.model_copy(update={"tank_surface_elevation_m": base + float(level)})
            for state, level in zip(case.operation.pumps, levels, strict=True)
        ]
        shore_end = case.berth.shore_end
        assert shore_end.tank is not None
        shore = shore_end.tank.model_copy(update={"surface_elevation_m": 10.0 + gone / 2400.0})
        moved = case.model_copy(
            update={
                "keel_elevation_m": float(tide.height(np.array([time]))[0]) - draught,
                "operation": case.operation.model_copy(update={"pumps": states}),
                "berth": case.berth.model_copy(update={"shore_end": shore_end.model_copy(update={"tank": shore})}),
            }
        )
        pumps = {pump.pump: pump.flow_m3_per_h for pump in answer_case(moved).pumps}
        return np.array([pumps["P1"], pumps["P2"]]) / 3600.0

    def empty(time: float, levels: np.ndarray) -> float:
        return float(np.min(levels) - 1.0)

    empty.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        lambda time, levels: -flows(time, levels) / area,
        (0.0, 60 * 3600.0),
        [15.0, 15.0],
        rtol=1e-6,
        atol=1e-6,
        events=empty,
        dense_output=True,
    )
    return found, area


@pytest.mark.slow
def test_times_to_quarters_as_solve_ivp_finds_them() -> None:
    stated = bulk_only()
    stated["case"]["ship"]["pumps"].pop()
    stated["case"]["ship"]["pumps"][1]["head_kept_percent"] = 96.0
    file = check_stay(stated, "two unlike pumps on a tide")
    (track,) = tracked(file)
    found, area = by_solve_ivp(file)
    first_off = float(found.t[-1])
    off = next(one for one in track.stretches if one.ended_by.startswith("group"))
    assert off.time_s[-1] == pytest.approx(first_off, rel=5e-4)
    whole = float(off.ashore_m3[-1])
    times = np.linspace(0.0, first_off, 4000)
    gone = ((15.0 - found.sol(times)) * area).sum(0)
    for share in (0.25, 0.5, 0.75, 1.0):
        expected = float(np.interp(share * whole, gone, times))
        assert track.time_at(share * whole) == pytest.approx(expected, rel=5e-4)


def test_volume_is_conserved_and_every_tank_ends_where_it_should() -> None:
    file = check_stay(stay_document(), "whole")
    plan = planned([file])
    (track,) = march(plan.circuit, plan.stays)
    assert track.failure is None
    assert track.ashore_m3 == pytest.approx(to_leave_m3(file, plan.tanks[0]), rel=1e-9)
    for stretch in track.stretches:
        if stretch.name in {"line filling", "ramp", "bulk"}:
            left = stretch.group_m3.sum(-1)
            np.testing.assert_allclose(left[0] - left, stretch.ashore_m3 - stretch.ashore_m3[0], rtol=1e-9, atol=1e-6)
    for one, other in zip(track.stretches, track.stretches[1:], strict=False):
        assert other.time_s[0] == pytest.approx(one.time_s[-1], rel=1e-12)
        assert other.ashore_m3[0] == pytest.approx(one.ashore_m3[-1], rel=1e-12)


def test_half_the_step_changes_hours_by_less_than_a_thousandth() -> None:
    file = check_stay(stay_document(), "whole")
    (whole,), (half,), (finer,) = (
        tracked(file),
        tracked(file, step_s=STEP_S / 2),
        tracked(file, step_s=STEP_S / 4, points=16),
    )
    assert half.ends_s == pytest.approx(whole.ends_s, rel=1e-4)
    assert finer.ends_s == pytest.approx(whole.ends_s, rel=1e-4)


def test_stays_side_by_side_come_out_as_each_alone() -> None:
    more = stay_document()
    more["case"]["agreed"]["manifold_pressure_bar_gauge"] = 5.0
    wide = bulk_only(water=floating_water(draught_m=11.0))
    files = [check_stay(one, "one") for one in (stay_document(), more, wide)]
    together = tracked(*files)
    for track, file in zip(together, files, strict=True):
        (alone,) = tracked(file)
        assert track.ends_s == pytest.approx(alone.ends_s, rel=1e-7)
        assert [one.name for one in track.stretches] == [one.name for one in alone.stretches]


def test_stages_last_as_stated() -> None:
    (track,) = tracked(check_stay(stay_document(), "whole"))
    named = {name: [one for one in track.stretches if one.name == name] for name in ("line filling", "ramp")}
    filling = named["line filling"]
    content = math.pi / 4 * (2 * 25 * 0.2545**2 + 850 * 0.489**2 + 2400 * 0.59**2)
    assert filling[-1].ashore_m3[-1] == pytest.approx(content, rel=1e-9)
    assert filling[-1].time_s[-1] / 3600.0 == pytest.approx(content / 500.0, rel=1e-9)
    ramp = named["ramp"]
    assert ramp[-1].time_s[-1] - ramp[0].time_s[0] == pytest.approx(1800.0, rel=1e-6)
    assert ramp[0].rate_m3_per_s[0] * 3600.0 == pytest.approx(500.0)
    after = track.stretches[len(filling) + len(ramp)]
    assert ramp[-1].rate_m3_per_s[-1] == pytest.approx(after.rate_m3_per_s[0], rel=1e-4)


def test_a_stop_adds_its_time_and_moves_the_ship_on_the_tide() -> None:
    stops = [{"reason": "shore tank shift", "begins_h": 6.0, "lasts_h": 1.5}]
    stops += [{"reason": "sampling", "after_m3": 15_000.0, "lasts_h": 0.5}]
    stated = bulk_only(stops=stops)
    stated["case"]["berth"]["receiving_rate_m3_per_h"] = 1000.0
    (track,) = tracked(check_stay(stated, "stops"))
    assert track.ends_s / 3600.0 == pytest.approx(23.0, rel=1e-9)
    shift = next(one for one in track.stretches if one.name == "shore tank shift")
    assert shift.time_s[0] / 3600.0 == pytest.approx(6.0, rel=1e-9)
    assert shift.ashore_m3[0] == pytest.approx(6000.0, rel=1e-9)


def test_washing_takes_its_flow_from_the_discharge() -> None:
    """Pumps at their greatest speed give more when some goes to the machines, so the shore loses less than that."""
    washing = [{"begins_h": 2.0, "lasts_h": 3.0, "flow_m3_per_h": 300.0}]
    plain, washed = bulk_only(), bulk_only(stages={"washing": washing})
    for stated in (plain, washed):
        for one in stated["case"]["ship"]["pumps"]:
            one["greatest_speed_rpm"] = min(one["greatest_speed_rpm"], 1100.0)
    without, with_it = tracked(check_stay(plain, "plain"), check_stay(washed, "washed"))
    assert with_it.ashore_m3 == pytest.approx(without.ashore_m3, rel=1e-9)
    assert without.ends_s < with_it.ends_s < without.ends_s + 3600.0
    during = [one for one in with_it.stretches if one.drawn_off_m3_per_s > 0]
    assert during[0].time_s[0] / 3600.0 == pytest.approx(2.0, rel=1e-5)
    assert during[-1].time_s[-1] / 3600.0 == pytest.approx(5.0, rel=1e-5)
    before = without.stretch_at(7200.0)
    rate = (matrix_at(before, part_at(before, np.array([7200.0]))) @ before.rate_m3_per_s)[0]
    lost = rate - during[0].rate_m3_per_s[0]
    assert 0.0 < lost * 3600.0 < 300.0


def test_receiving_tanks_that_fill_up_end_the_stay_there() -> None:
    stated = bulk_only()
    stated["shore_tanks"][0] |= {"full_at_m3": 2400 * 2.0 + 5000.0}
    stated["case"]["berth"]["receiving_rate_m3_per_h"] = 1000.0
    (track,) = tracked(check_stay(stated, "small"))
    assert track.failure is not None
    assert track.failure.kind == "receivers full"
    assert track.failure.time_s / 3600.0 == pytest.approx(5.0, rel=1e-9)


def test_tanks_in_sequence_are_emptied_one_after_the_other() -> None:
    draws = [{"pumps": ["P1", "P2"], "tanks": ["1P", "1S", "2P", "2S", "3P", "3S"], "order": "in sequence"}]
    stated = bulk_only(draws=draws)
    stated["case"]["berth"]["receiving_rate_m3_per_h"] = 1000.0
    (track,) = tracked(check_stay(stated, "sequence"))
    ends = [one.time_s[-1] / 3600.0 for one in track.stretches if one.ended_by == "group 0"]
    np.testing.assert_allclose(ends, 3.5 * np.arange(1, 7), rtol=1e-9)


def test_where_suction_takes_over_is_found_and_not_stepped_over() -> None:
    """A cargo near its boiling point: first the agreed pressure binds, then NPSH; finer points find the same hour."""
    stated = bulk_only()
    stated["case"]["agreed"]["manifold_pressure_bar_gauge"] = 5.0
    stated["case"]["cargo"]["vapour_pressure_kpa_abs"] = 85.0
    file = check_stay(stated, "volatile")
    (track,), (finer,) = tracked(file), tracked(file, step_s=STEP_S / 8, points=16)
    first = next(one for one in track.stretches if one.ended_by == "limit")
    after = track.stretches[track.stretches.index(first) + 1]
    assert len(set(first.code[1:-1])) == 1
    assert first.code[1] != after.code[1]
    same = next(one for one in finer.stretches if one.ended_by == "limit")
    assert same.time_s[-1] == pytest.approx(first.time_s[-1], rel=2e-3)
    assert finer.ends_s == pytest.approx(track.ends_s, rel=1e-3)
