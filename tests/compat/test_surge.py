"""Surge of whole cases: what is asked for, what is answered, what the answers hold to."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from django.core.management import call_command

from compat.calc.surge import formulae, valves
from compat.calc.surge.march import march
from compat.calc.surge.study import margins_in, study_event
from compat.calc.surge.system import Event
from compat.case.answer import answer_case
from compat.case.case_file import CaseError, check_case
from compat.case.questions import SURGE_LEFT_OUT
from compat.surge.answering import surge_of
from compat.surge.asking import stated_valves
from compat.surge.closing import safe_closing
from compat.surge.found import Found
from compat.surge.limiting import answer_within_surge, times_within
from compat.surge.report import surge_report
from compat.surge.studying import SurgeStudy
from shared.calc.units import BAR_PA
from shared.surge_facts import BerthSurgeFacts, ValveFacts, WallFacts
from tests.compat.surges import surge_case


def study_of(document, **changes):
    case = check_case(document, "case")
    return SurgeStudy(case, {**answer_case(case).document(), **changes})


def choices(model, key):
    return set(model.model_json_schema()["properties"][key].get("enum", ())) or {
        text for part in model.model_json_schema()["properties"][key]["anyOf"] for text in part.get("enum", ())
    }


def test_facts_and_calculation_know_the_same_words():
    assert choices(WallFacts, "material") == set(formulae.MATERIALS)
    assert choices(WallFacts, "restraint") == set(formulae.RESTRAINTS)
    assert choices(ValveFacts, "law") == set(valves.VALVE_LAWS)


def test_line_starts_in_the_balance_of_the_hydraulic_model():
    case = check_case(surge_case(), "case")
    answer = answer_case(case).document()
    study = SurgeStudy(case, answer)
    system = study.system
    assert system is not None, study.problem
    grid, heads = system.grid, system.steady_head_m
    ends = [heads[grid.first[1]], *(heads[last] for last in grid.last[1:])]
    assert ends == pytest.approx([point["head_m"] for point in answer["profile"]], abs=1e-6)
    at_rest = march(system.line(Event("nothing"), 4000), 4000)
    assert np.abs(at_rest.greatest_head_m - heads).max() < 1e-6
    assert np.abs(at_rest.least_head_m - heads).max() < 1e-6
    assert grid.adjustment < 0.02


def test_missing_wall_says_who_must_supply_it():
    document = surge_case()
    del document["berth"]["surge"]["walls"][1]["wall_thickness_mm"]
    surge = study_of(document)
    assert surge.problem == "Surge is not decided: what it needs is not stated."
    name = document["berth"]["shore_line"][0]["name"]
    assert surge.questions == (
        f"Wall thickness of {name} is not stated: ask the terminal; or state the wave speed in it.",
    )


def test_missing_bulk_modulus_is_asked_of_the_ship():
    document = surge_case()
    del document["cargo"]["bulk_modulus_mpa"]
    assert any("Bulk modulus of the cargo is not stated: ask the ship" in text for text in study_of(document).questions)


def test_stated_wave_speeds_need_neither_wall_nor_bulk_modulus():
    document = surge_case()
    del document["cargo"]["bulk_modulus_mpa"]
    document["ship"]["surge"]["common_line_wall"] = {"wave_speed_m_per_s": 1150.0}
    for wall in document["berth"]["surge"]["walls"]:
        for key in ("wall_thickness_mm", "material", "restraint"):
            del wall[key]
        wall["wave_speed_m_per_s"] = 1100.0
    system = study_of(document).system
    assert system is not None
    assert [run.wave_speed_m_per_s for run in system.grid.runs] == [1150.0, 1100.0, 1100.0, 1100.0]


@pytest.mark.parametrize(
    ("place", "value", "sentence"),
    [
        (("berth", "surge", "shore_valve", "closing_time_s"), 0.0, "is 0.0 s; allowed: 0.1 to 600 s"),
        (("berth", "surge", "shore_valve", "closing_time_s"), -5.0, "is -5.0 s; allowed: 0.1 to 600 s"),
        (("ship", "surge", "common_line_wall", "wave_speed_m_per_s"), 1600.0, "allowed: 100 to 1,500 m/s"),
        (("cargo", "bulk_modulus_mpa"), 100.0, "allowed: 300 to 4,000 MPa"),
    ],
)
def test_bad_input_is_refused_with_a_sentence(place, value, sentence):
    document = surge_case()
    inner = document
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = value
    with pytest.raises(CaseError) as refused:
        check_case(document, "case")
    assert any(sentence in problem and place[-1] in problem for problem in refused.value.problems)


def test_rating_below_the_steady_pressure_is_said():
    document = surge_case()
    document["operation"]["speed"] = "as stated"
    for state in document["operation"]["pumps"]:
        state["speed_rpm"] = 1400.0
    document["berth"]["shore_line"][0]["rating_bar_gauge"] = 2.0
    study = study_of(document)
    assert study.system is None
    assert "is 2.00 bar, below its steady pressure of" in study.problem


def test_allowance_is_none_unless_stated():
    plain, allowed = study_of(surge_case()), study_of(surge_case(surge_allowance_percent=10.0))
    assert plain.system is not None
    assert allowed.system is not None
    first = plain.system.grid.first[2]
    rating = 16.0 * BAR_PA
    assert plain.system.pressure_pa_gauge(plain.system.allowed_head_m)[first] == pytest.approx(rating)
    assert allowed.system.pressure_pa_gauge(allowed.system.allowed_head_m)[first] == pytest.approx(1.1 * rating)


def test_agreed_closing_time_counts_before_the_time_as_set():
    events = study_of(surge_case(closing_time_s=45.0)).events()
    assert {event.closing_s for key, event in events.items() if key.endswith("valve")} == {45.0}
    assert study_of(surge_case()).events()["arm-valve"].closing_s == 10.0


def test_slower_is_safer_and_the_shortest_safe_time_is_the_bound():
    study = study_of(surge_case())
    valve = next(valve for valve in valves_of(study) if valve.key == "shore-valve")
    told: list[float] = []
    found = safe_closing(study, valve, Found(tell=told.append))
    assert len(told) > 5
    assert told == sorted(told)
    assert found.shortest_safe_s is not None
    system = study.system
    assert system is not None
    event = study.events()["shore-valve"]
    assert margins_in(system, replace(event, closing_s=float(found.shortest_safe_s))).verdict == "kept"
    assert margins_in(system, replace(event, closing_s=found.shortest_safe_s - 1.0)).verdict != "kept"
    assert found.highest_rate_m3_per_h is not None
    rate = study.answer["total_flow_m3_per_h"]
    assert 0 < found.highest_rate_m3_per_h < rate
    maker = study.maker
    assert maker is not None
    allowed = found.highest_rate_m3_per_h / 3600.0
    assert margins_in(maker.at_flow(allowed).system, event).verdict == "kept"
    assert margins_in(maker.at_flow(1.01 * allowed).system, event).verdict == "exceeded"


def valves_of(study):
    return stated_valves(study.case)


def test_boiling_is_never_a_silent_number():
    surge = study_of(surge_case())
    event = surge.studied("trip").result
    assert event.low_from_s is not None
    assert event.verdict == "boils"
    within = answer_within_surge(surge.case)
    text = surge_report(surge_of(within, times_within(within)))
    assert "vapour pressure is reached after" in text
    assert "ask for a specialist study" in text


def test_pumps_that_run_down_are_gentler_than_pumps_that_stop_at_once():
    study = study_of(surge_case())
    system = study.system
    assert system is not None
    quiet = replace(system, least_head_m=np.full(system.grid.nodes, -np.inf))
    at_once = study_event(quiet, Event("trip", trip=True))
    slowly = study_event(replace(quiet, run_down_s=4.0), Event("trip", trip=True))
    least = [min(run.least_pa_gauge for run in result.runs) for result in (at_once, slowly)]
    assert least[0] < least[1]


def test_instant_stop_of_the_pumps_drops_the_head_by_joukowsky():
    # Joukowsky (1898), at the pumps, before anything returns
    study = study_of(surge_case())
    system = study.system
    assert system is not None
    steps = 5
    met = march(system.line(Event("trip", trip=True), steps), steps, watch=(0,))
    run = system.grid.runs[0]
    drop = system.grid.wave_speeds_m_per_s[0] * system.flow_m3_per_s / run.area_m2 / 9.80665
    assert met.watched_head_m[0, 0] - met.watched_head_m[1, 0] == pytest.approx(drop, rel=1e-3)


def test_relief_valve_takes_the_top_off():
    document = surge_case()
    with_relief = surge_case()
    line = document["berth"]["shore_line"][-1]
    with_relief["berth"]["surge"]["relief_valve"] = {
        "run": line["name"],
        "distance_m": line["length_m"] - 50.0,
        "opens_at_bar_gauge": 10.0,
        "full_at_bar_gauge": 11.0,
        "full_flow_m3_per_h": 3500.0,
    }
    peaks = []
    for one in (document, with_relief):
        result = study_of(one).studied("shore-valve").result
        peaks.append(max(run.greatest_pa_gauge for run in result.runs if run.name == line["name"]))
    assert peaks[1] < 0.7 * peaks[0]


def test_start_against_a_shut_valve_ends_at_the_shut_off_head():
    study = study_of(surge_case())
    result = study.studied("start").result
    assert result.event.start_s == 30.0
    system = study.system
    assert system is not None
    shut_off = system.tank_head_m + system.pumps.head_m[0]
    # a wave that comes back while the speed still rises adds what the head rises in that time, and no more
    rise = shut_off - system.tank_head_m
    over = 2.0 * rise / 30.0 * result.by_hand.return_time_s
    assert 0.98 * shut_off <= result.envelope.greatest_head_m.max() <= shut_off + over


def test_shore_known_by_pairs_only_is_asked_for_its_piping():
    document = surge_case()
    document["berth"]["shore_line"] = []
    document["berth"]["shore_end"] = {
        "observed": {
            "pairs": [
                {"rate_m3_per_h": 1000.0, "manifold_pressure_bar_gauge": 2.0},
                {"rate_m3_per_h": 2000.0, "manifold_pressure_bar_gauge": 4.5},
            ],
            "manifold_elevation_m": 12.0,
            "density_kg_per_m3": 850.0,
            "kinematic_viscosity_mm2_per_s": 8.0,
        }
    }
    assert "ask the terminal for its piping" in study_of(document).questions[0]


def test_command_reports_surge(tmp_path):
    document = surge_case(closing_time_s=120.0)
    document["berth"]["surge"].pop("arm_valve")
    document["ship"]["surge"].pop("manifold_valve")
    file = tmp_path / "case.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    out = io.StringIO()
    call_command("assess", str(file), "--surge", "--json", stdout=out)
    surge = json.loads(out.getvalue())["surge"]
    assert surge["state"] == "answered"
    assert [valve["key"] for valve in surge["closing"]] == ["shore-valve"]
    limits = {row["key"]: row for row in json.loads(out.getvalue())["limits"]}
    assert limits.keys() >= {"surge-closing-shore-valve", "surge-rate-shore-valve"}
    assert "surge-shore-valve" in {row["key"] for row in surge["limits"]}
    assert surge["wave_speed_adjustment_percent"] < 2.0
    assert any("stricter than these figures" in text for text in surge["cautions"])
    out = io.StringIO()
    call_command("assess", str(file), "--json", stdout=out)
    left_out = json.loads(out.getvalue())
    assert left_out["surge"] is None
    assert SURGE_LEFT_OUT in left_out["cautions"]
    out = io.StringIO()
    call_command("assess", str(file), stdout=out)
    assert "Pressure surge is left out here. Where walls and valves are stated, --surge works it out" in out.getvalue()


def test_nothing_stated_is_not_decided():
    document = surge_case()
    del document["ship"]["surge"], document["berth"]["surge"]
    case = check_case(document, "case")
    within = answer_within_surge(case)
    surge = surge_of(within, times_within(within))
    row = within.answer.limits[-1]
    assert (row.key, row.state) == ("surge", "not decided")
    assert "Ask ship and terminal" in row.ask
    assert surge.state == "not decided"
    assert not surge.limits
    assert any("ask the terminal" in text for text in surge.questions)
    assert any("ask the ship" in text for text in surge.questions)
    assert case.berth.surge is None
    assert BerthSurgeFacts().walls == []


def test_bulk_modulus_follows_from_the_laboratory_and_says_so():
    document = surge_case()
    stated = document["cargo"].pop("bulk_modulus_mpa")
    document["cargo"] |= {
        "temperature_c": 20.0,
        "laboratory": {"group": "crude oil", "density_at_15_c_kg_per_m3": 850.0},
    }
    study = study_of(document)
    assert study.system is not None, study.questions
    assert any(
        text.startswith("Bulk modulus of the cargo: 1,635 MPa") and "MPMS 11.2.1M" in text for text in study.notes
    )
    by_hand = study_of({**document, "cargo": {**document["cargo"], "bulk_modulus_mpa": stated}})
    (told,) = [text for text in by_hand.notes if "Bulk modulus" in text]
    assert told == "Bulk modulus of the cargo: 1,400 MPa (as stated)."
    unlikely = study_of({**document, "cargo": {**document["cargo"], "bulk_modulus_mpa": 700.0}})
    assert any("That is far from the 1,635 MPa" in text and "Free gas lowers it" in text for text in unlikely.notes)
    assert by_hand.system is not None
    assert unlikely.system is not None
    assert unlikely.system.grid.runs[-1].wave_speed_m_per_s < by_hand.system.grid.runs[-1].wave_speed_m_per_s


def test_bulk_modulus_outside_its_range_is_asked_for():
    document = surge_case()
    del document["cargo"]["bulk_modulus_mpa"]
    document["cargo"] |= {
        "temperature_c": 120.0,
        "laboratory": {"group": "lubricating oil", "density_at_15_c_kg_per_m3": 900.0},
    }
    (asked,) = study_of(document).questions
    assert "Temperature is 120 °C; allowed: -30 to 90 °C. State the bulk modulus of the cargo." in asked


def test_hose_by_its_stated_modulus():
    # Wylie & Streeter (1993), ch. 1 (from memory): a = sqrt(K/ρ) / sqrt(1 + (K/E)(D/e)), free to stretch
    document = surge_case()
    hose = document["berth"]["arms"][0]
    document["berth"]["surge"]["walls"][0] = {
        "run": hose["name"],
        "wall_thickness_mm": 25.0,
        "elastic_modulus_mpa": 900.0,
        "restraint": "expansion joints",
    }
    study = study_of(document)
    assert study.system is not None, study.questions
    density = document["cargo"]["density_kg_per_m3"]
    expected = np.sqrt(1400e6 / density) / np.sqrt(1.0 + 1400.0 / 900.0 * hose["bore_mm"] / 25.0)
    stated = next(run for run in study.system.grid.runs if hose["name"] in run.name)
    assert 100.0 < expected < 500.0
    assert stated.wave_speed_m_per_s == pytest.approx(expected, rel=1e-9)
    document["berth"]["surge"]["walls"][0]["elastic_modulus_mpa"] = 40.0  # softer than any wave is worked out for
    assert "allowed: 100 to 1,500 m/s" in study_of(document).problem
