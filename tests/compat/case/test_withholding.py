"""Nothing of a shore line that its terminal keeps to itself is left in what a ship is shown."""

from __future__ import annotations

import json

from compat.case.answer import answer_case
from compat.case.case_file import CaseFile
from compat.case.withholding import KEPT_BY_TERMINAL, without_line_data
from tests.builders import berth_facts, case_document

RUN = berth_facts()["shore_line"][0]


def answered(**berth: object) -> dict[str, object]:
    return answer_case(CaseFile.model_validate(case_document(berth=berth_facts(**berth)))).document()


def test_names_figures_and_profile_of_the_line_are_gone() -> None:
    """A line whose run without stated losses would be asked about by name, and whose rating binds nowhere."""
    line = [
        {**RUN, "name": "Hidden jetty line", "loss_coefficient": None},
        {**RUN, "name": "Hidden road", "length_m": 777.7, "rating_bar_gauge": 12.34},
    ]
    full = answered(shore_line=line)
    kept = without_line_data(full)
    assert "Hidden" in json.dumps(full)
    text = json.dumps(kept)
    for told in ("Hidden", "777.7", "801.7", "12.34"):
        assert told not in text, told
    assert kept["profile"] == []
    for limit in kept["limits"]:
        if limit["key"].startswith("shore-"):
            assert (limit["value"], limit["allowed"], limit["margin"]) == (None, None, None)
            assert limit["source"] == KEPT_BY_TERMINAL


def test_receiving_tanks_are_gone_even_from_cautions() -> None:
    """Two tanks of which the higher one runs into the lower: the caution stays, the name goes."""
    branch = {"length_m": 100.0, "bore_mm": 300.0, "roughness_mm": 0.1, "gas_pressure_bar_gauge": 0.0}
    tanks = [
        {**branch, "name": "Hidden low", "surface_elevation_m": 10.0},
        {**branch, "name": "Hidden high", "surface_elevation_m": 45.0},
    ]
    full = answered(shore_end={"tanks": tanks})
    assert any("Hidden high" in caution for caution in full["cautions"])
    kept = without_line_data(full)
    assert "Hidden" not in json.dumps(kept)
    assert (kept["tanks"], kept["shore_fit"]) == ([], None)
    assert any("a receiving tank" in caution for caution in kept["cautions"])


def test_what_the_ship_needs_stays() -> None:
    """Rate, speed, gauges, arms, and whatever limit binds, by its key."""
    full = answered()
    kept = without_line_data(full)
    for key in ("total_flow_m3_per_h", "common_speed_rpm", "pumps", "arms", "binding", "outcome", "liquid"):
        assert kept[key] == full[key]
    assert [limit["key"] for limit in kept["limits"]] == [limit["key"] for limit in full["limits"]]
    assert [limit["state"] for limit in kept["limits"]] == [limit["state"] for limit in full["limits"]]
