"""What values on the table mean: the answer on the frozen case, and the limits that refuse them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from compat.accord.engine import refusals, settle_refusals, warnings, work_out
from compat.accord.value_kinds import NumberValue
from compat.accord.values import DEFINITIONS, case_with
from compat.case.case_file import check_case
from compat.surge.limiting import answer_within_surge
from shared.calc.errors import InputError
from tests.builders import berth_facts, case_document, pump_facts, ship_facts
from tests.compat.accord.building import CLOSING, HIGHEST, PRESSURE, START, VALUES

EIGHT = {PRESSURE: Decimal(8)}


def test_the_answer_is_that_of_the_engine_on_the_same_case() -> None:
    stated = case_document(agreed={PRESSURE: 8.0, HIGHEST: 2800.0, START: 600.0, CLOSING: 45.0})
    expected = answer_within_surge(check_case(stated, "case")).answer.document()
    assert work_out(case_document(), VALUES).answer == expected


def test_exactly_the_given_values_are_agreed() -> None:
    case = case_document(agreed={PRESSURE: 5.0, HIGHEST: 1000.0})
    assert case_with(case, {PRESSURE: Decimal("7.5")})["agreed"] == {PRESSURE: 7.5}
    assert case["agreed"] == {PRESSURE: 5.0, HIGHEST: 1000.0}


def test_without_a_pressure_there_is_no_answer_yet() -> None:
    worked = work_out(case_document(), {HIGHEST: Decimal(2000)})
    assert worked.answer is None
    assert worked.problems == ("The answer follows as soon as a highest manifold pressure is on the table.",)


def test_a_higher_agreed_pressure_never_lowers_the_rate() -> None:
    rates = [
        (work_out(case_document(), {PRESSURE: Decimal(bar)}).answer or {})["total_flow_m3_per_h"]
        for bar in ("2", "4", "6", "8", "10")
    ]
    assert rates == sorted(rates)
    assert rates[0] < rates[2]


def test_a_highest_rate_holds_the_rate_down() -> None:
    worked = work_out(case_document(), EIGHT | {HIGHEST: Decimal(1500)})
    assert worked.answer is not None
    assert worked.answer["total_flow_m3_per_h"] == pytest.approx(1500, rel=1e-6)
    assert worked.answer["binding"] == "agreed-highest-rate"


@pytest.mark.parametrize(
    ("changes", "rate", "reason"),
    [
        # v · A with v 7 m/s in 489 mm: 7 × π/4 × 0.489² × 3600 = 4,733 m³/h
        ({"berth": berth_facts(receiving_rate_m3_per_h=None)}, 4740, "the velocity limit of the shore line, 4,733"),
        # 12 m/s in two arms of 254.5 mm: 2 × 12 × π/4 × 0.2545² × 3600 = 4,395 m³/h
        ({"berth": berth_facts(receiving_rate_m3_per_h=None)}, 4400, "the connected arms or hoses, 4,395"),
        # 7 m/s in the ship's 500 mm line: 7 × π/4 × 0.5² × 3600 = 4,948 m³/h
        ({"berth": berth_facts(receiving_rate_m3_per_h=None)}, 4950, "the ship's Deck line, 4,948"),
        # SOLAS II-2/4.5.5, FSS Code ch. 15 (from memory): delivery of at least 1.25 times the rate
        ({"ship": ship_facts(inert_gas_delivery_m3_per_h=2500.0)}, 2001, "inert gas delivery over 1.25, 2,000"),
    ],
)
def test_a_rate_is_held_against_what_is_stated(changes: dict[str, object], rate: int, reason: str) -> None:
    told = refusals(case_document(**changes), HIGHEST, Decimal(rate), EIGHT)
    assert any(reason in sentence for sentence in told), told


def test_a_limit_that_is_not_stated_refuses_nothing() -> None:
    berth = berth_facts(receiving_rate_m3_per_h=None, manifold_pressure_limit_bar_gauge=None)
    pumps = [pump_facts("P1", rated_flow_m3_per_h=None), pump_facts("P2", rated_flow_m3_per_h=None)]
    case = case_document(berth=berth, ship=ship_facts(pumps=pumps, ship_line_velocity_limit_m_per_s=None))
    assert refusals(case, HIGHEST, Decimal(4300), EIGHT) == []
    assert refusals(case, PRESSURE, Decimal(12), {}) == []


def test_stated_speeds_that_pass_the_agreed_pressure_refuse_it() -> None:
    operation = {
        "speed": "as stated",
        "pumps": [
            {
                "pump": key,
                "running": True,
                "speed_rpm": 1500.0,
                "tank_surface_elevation_m": 12.0,
                "tank_gas_pressure_bar_gauge": 0.05,
            }
            for key in ("P1", "P2")
        ],
    }
    told = refusals(case_document(operation=operation), PRESSURE, Decimal(5), {})
    assert any(sentence.startswith("Agreed manifold pressure would come to") for sentence in told), told


def test_no_sentence_names_a_shore_segment() -> None:
    told = refusals(case_document(), HIGHEST, Decimal(9000), EIGHT) + refusals(
        case_document(), PRESSURE, Decimal(40), {}
    )
    assert told
    assert not any(name in sentence for sentence in told for name in ("Jetty line", "Line to the tank farm"))


def test_values_that_fit_together_can_be_settled() -> None:
    assert settle_refusals(case_document(), VALUES) == []


def test_values_that_do_not_fit_together_can_not() -> None:
    told = settle_refusals(case_document(), VALUES | {START: Decimal(2900)})
    assert told == ["The start rate of 2900 m³/h is above the highest rate of 2800 m³/h."]
    told = settle_refusals(case_document(), {PRESSURE: Decimal(2), HIGHEST: Decimal(2800), START: Decimal(2500)})
    assert len(told) == 1
    assert told[0].startswith("The start rate of 2500 m³/h is above the ")
    assert told[0].endswith("that she makes with these values.")


def test_an_exceeded_limit_that_no_value_keeps_is_warned_of_and_refuses_nothing() -> None:
    limits = [
        {"key": "slack-line", "label": "Vapour pressure ashore", "state": "exceeded"},
        {"key": "shut-valve", "label": "Pumps on against a shut valve", "state": "kept"},
        {"key": "receiving-rate", "label": "Receiving rate", "state": "exceeded"},
    ]
    assert [sentence.partition(": ")[2].partition(".")[0] for sentence in warnings(limits)] == [
        "Vapour pressure ashore"
    ]
    lines = [dict(segment, rating_bar_gauge=9.0) for segment in berth_facts()["shore_line"]]
    weak = case_document(berth=berth_facts(shore_line=lines))
    answer = work_out(weak, {PRESSURE: Decimal(8)}).answer
    assert answer is not None
    assert warnings(answer["limits"])
    assert refusals(weak, PRESSURE, Decimal(8), {}) == []


def test_the_table_of_values_takes_its_ranges_from_the_case_file() -> None:
    numbers = {key: DEFINITIONS[key] for key in (PRESSURE, HIGHEST, START, CLOSING)}
    assert {key: (one.least, one.greatest) for key, one in numbers.items() if isinstance(one, NumberValue)} == {
        PRESSURE: (Decimal("0.1"), Decimal(400)),
        HIGHEST: (Decimal("0.1"), Decimal(100_000)),
        START: (Decimal("0.1"), Decimal(100_000)),
        CLOSING: (Decimal("0.1"), Decimal(600)),
    }


def test_a_value_without_definition_is_refused() -> None:
    with pytest.raises(InputError, match="There is no value"):
        refusals(case_document(), "colour", Decimal(1), {})
