"""A case put together from ship, berth and a setting, and taken apart again."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from compat.case.case_file import AgreedFacts, CaseError, CaseFile, OperationFacts, OwnLimit, PumpState, Tolerance
from compat.case.composing import Setting, arms_connected, compose_case, keel_elevation_m, setting_of
from shared.calc.errors import InputError
from terminals.facts import BerthFacts
from tests.builders import berth_facts, case_document, ship_facts
from tests.compat.assessing.conftest import make_setting
from vessels.facts import ShipFacts

SHIP = ShipFacts.model_validate(ship_facts())
ARM = berth_facts()["arms"][0]
BERTH = BerthFacts.model_validate(
    berth_facts(arms=[{**ARM, "count": 2}, {**ARM, "name": "Hose 8 in", "kind": "hose", "bore_mm": 203.0, "count": 3}])
)


def test_the_keel_lies_as_deep_as_the_draught_below_the_water() -> None:
    """By hand: 2.4 m of water over zero and 11.9 m of draught put the keel 9.5 m below zero."""
    assert keel_elevation_m(2.4, 11.9) == -9.5
    assert keel_elevation_m(0.3, 0.1) == 0.2  # not 0.19999999999999998


def test_a_composed_case_states_what_ship_berth_and_setting_state() -> None:
    """The same case as the one written by hand."""
    berth = BerthFacts.model_validate(berth_facts())
    case = compose_case(SHIP, berth, make_setting(title=case_document()["title"]))
    assert case == CaseFile.model_validate(case_document())


@pytest.mark.parametrize("counts", [(2, 3), (1, 3), (2, 0), (0, 1), (0, 3)])
def test_a_case_comes_apart_into_the_setting_that_made_it(counts: tuple[int, ...]) -> None:
    """Arms of two kinds, each in part or left out; own limits and rates come along."""
    setting = make_setting(
        arms_connected=counts,
        agreed=AgreedFacts(manifold_pressure_bar_gauge=7.5, highest_rate_m3_per_h=2000.0, start_rate_m3_per_h=300.0),
        own_limits=(OwnLimit(name="Vetting", owner="ship", rate_m3_per_h=1900.0),),
        tolerances=(Tolerance(key="cargo.density_kg_per_m3", plus_minus=5.0),),
    )
    case = compose_case(SHIP, BERTH, setting)
    assert [arm.count for arm in case.berth.arms] == [count for count in counts if count]
    assert setting_of(case, BERTH) == setting


def test_whatever_a_case_may_state_is_carried_by_the_setting() -> None:
    """A key that is added to the case file must not be lost when a case is composed anew."""
    carried = {field.name for field in fields(Setting)} - {"arms_connected"}
    assert carried == set(CaseFile.model_fields) - {"format", "ship", "berth"}


@pytest.mark.parametrize(
    ("counts", "sentence"),
    [
        ((0, 0), "No arm or hose is connected; connect at least one."),
        ((3, 0), "Arm 10 in connected: 3; allowed: 0 to 2."),
        ((1, -1), "Hose 8 in connected: -1; allowed: 0 to 3."),
        ((1,), "1 counts are given for 2 kinds of arm or hose; give one for each."),
    ],
)
def test_arms_that_the_berth_does_not_have(counts: tuple[int, ...], sentence: str) -> None:
    """Each count is named with its range."""
    with pytest.raises(InputError, match=sentence.split(";", maxsplit=1)[0]):
        arms_connected(BERTH.arms, counts)


def test_what_does_not_fit_the_ship_is_refused_with_the_cases_own_sentence() -> None:
    """A tank level above the tank's top."""
    states = [
        PumpState(pump=key, running=True, tank_surface_elevation_m=19.5, tank_gas_pressure_bar_gauge=0.05)
        for key in ("P1", "P2")
    ]
    setting = replace(
        make_setting(arms_connected=(2, 3)), operation=OperationFacts(speed="one common speed", pumps=states)
    )
    with pytest.raises(CaseError, match=r"19\.5 m; allowed: 2\.1 to 19 m"):
        compose_case(SHIP, BERTH, setting)
