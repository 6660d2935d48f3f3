"""The payload of a plan: whole, without floats, in UTC, and the same bytes each time."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest

from compat.accord.checklist import duties, item_named, items_for
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.coverage import MET_BY_THE_PLAN
from compat.accord.checklist.item import Side
from compat.accord.plan_document import plan_bytes, plan_payload, utc_text
from compat.accord.plan_file import read_plan
from shared.calc.errors import InputError
from shared.canonical import CanonicalError, canonical_bytes, numbers_as_text, sha256_hex
from tests.compat.accord.plan_builders import AGREED, CONDITIONS, PREPARED, mark, plan_inputs

LOCAL_RULES = (
    "Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win."
)


def floats_in(value: Any) -> list[float]:
    if isinstance(value, float):
        return [value]
    parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else []
    return [found for part in parts for found in floats_in(part)]


def test_the_payload_reads_back_to_the_same_document_and_the_same_bytes() -> None:
    payload = plan_payload(plan_inputs())
    data = plan_bytes(payload)
    assert read_plan(data).payload == payload
    assert plan_bytes(json.loads(data)) == data


def test_two_builds_of_the_same_inputs_give_the_same_bytes() -> None:
    assert plan_bytes(plan_payload(plan_inputs())) == plan_bytes(plan_payload(plan_inputs()))


def test_no_float_is_left_and_a_float_is_refused_before_it_is_signed() -> None:
    payload = plan_payload(plan_inputs())
    assert floats_in(payload) == []
    with pytest.raises(CanonicalError, match="float"):
        plan_bytes({**payload, "answer": {"total_flow_m3_per_h": 2900.0}})


def test_agreed_values_stand_as_decimal_text_with_who_and_when() -> None:
    pressure, rate, _ = plan_payload(plan_inputs())["values"]
    assert (pressure["value"], pressure["unit"], pressure["gauge"]) == ("8", "bar", True)
    assert (rate["value"], rate["unit"]) == ("2900", "m³/h")
    assert pressure["proposed"] == {
        "side": "terminal",
        "person": "Tor Askeland",
        "organisation": "Sandvik Oil",
        "at": "2031-04-14T05:25:00Z",
    }
    assert pressure["accepted"]["side"] == "ship"


def test_a_decimal_never_gets_an_exponent() -> None:
    values = tuple(replace(value, value=Decimal("1.2E+3")) for value in plan_inputs().values)
    assert {value["value"] for value in plan_payload(plan_inputs(values=values))["values"]} == {"1200"}


def test_times_are_utc_whatever_zone_they_came_in() -> None:
    east = timezone(timedelta(hours=9))
    assert utc_text(PREPARED.astimezone(east)) == "2031-04-14T06:30:00Z"
    with pytest.raises(InputError, match="has no zone"):
        utc_text(datetime(2031, 4, 14, 6, 30))  # noqa: DTZ001


def test_every_item_that_applies_stands_in_the_plan_with_its_sentence_and_source() -> None:
    checklist = plan_payload(plan_inputs())["checklist"]
    assert [item["key"] for item in checklist["items"]] == [item.key for item in items_for(CONDITIONS)]
    for item in checklist["items"]:
        assert item["statement"] == item_named(item["key"]).statement
        assert item["basis"]
    assert {item["key"] for item in checklist["items"] if not item["before_signing"]} == {
        item.key for item in duties(CONDITIONS)
    }
    left_out = {item["key"] for item in checklist["left_out"]}
    assert "conn.hoses-fit" in left_out
    assert "light.enough" not in left_out, "whether any part falls at night is not known"


def test_a_mark_carries_person_time_remark_and_values() -> None:
    given = mark(item_named("moor.lines-hold"), Side.SHIP, remark="two extra springs", values={"people": "4"})
    items = {item["key"]: item for item in plan_payload(plan_inputs(marks=(given,)))["checklist"]["items"]}
    assert items["moor.lines-hold"]["marks"] == [
        {
            "side": "ship",
            "answer": "yes",
            "person": "Ines Marlowe",
            "organisation": "Halvard Tankers",
            "at": "2031-04-14T05:30:00Z",
            "remark": "two extra springs",
            "values": {"people": "4"},
            "carried_from_plan": None,
        }
    ]


@pytest.mark.parametrize(
    ("key", "side", "sentence"),
    [
        ("sea.valves-sealed", Side.TERMINAL, "carries a mark of the terminal, which does not answer it"),
        ("conn.hoses-fit", Side.SHIP, "carries a mark but does not apply"),
    ],
)
def test_a_mark_in_the_wrong_place_is_refused(key: str, side: Side, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        plan_payload(plan_inputs(marks=(mark(item_named(key), side),)))


def test_a_mark_on_an_unknown_item_is_refused() -> None:
    stray = replace(mark(item_named("moor.lines-hold"), Side.SHIP), item_key="moor.none")
    with pytest.raises(InputError, match=r"no checklist item “moor\.none”"):
        plan_payload(plan_inputs(marks=(stray,)))


@pytest.mark.parametrize(("paragraph", "part"), MET_BY_THE_PLAN.items())
def test_what_the_declaration_asks_of_the_plan_itself_is_there(paragraph: str, part: Any) -> None:
    # Source: 33 CFR 156.150(a)-(c), 2015 annual edition.
    found: Any = plan_payload(plan_inputs())
    for key in part.path:
        found = found[key]
    assert found, f"{paragraph}: {part.where}"


def test_each_side_certifies_its_own_inspection_and_readiness() -> None:
    # Source: 33 CFR 156.150(b) and (c)(5): by inspection, tests complete, ready to begin.
    statements = plan_payload(plan_inputs())["statements"]
    assert set(statements) == {"ship", "terminal"}
    for side, statement in statements.items():
        assert f"person in charge for the {side}" in statement
        assert "tests and inspections" in statement
        assert "ready to begin" in statement


def test_the_first_caution_is_that_local_rules_win_and_none_stands_twice() -> None:
    payload = plan_payload(plan_inputs(cautions=("Ice on the jetty.", LOCAL_RULES)))
    assert payload["cautions"][0] == LOCAL_RULES
    assert payload["cautions"].count(LOCAL_RULES) == 1
    assert "Ice on the jetty." in payload["cautions"]
    assert any("surge" in caution for caution in payload["cautions"])
    assert any("persons in charge" in caution for caution in payload["cautions"])


def test_line_data_that_the_terminal_keeps_is_absent_but_bound_by_its_hash() -> None:
    inputs = plan_inputs(line_data_shared=False)
    payload = plan_payload(inputs)
    text, told = (plan_bytes(document).decode("utf-8") for document in (payload, plan_payload(plan_inputs())))
    for secret in ("Jetty line", "Line to the tank farm", "Tank 12", '"489"', '"590"'):
        assert secret not in text
        assert secret in told
    assert payload["case"]["berth"]["name"] == "Outer berth"
    assert payload["case_sha256"] == sha256_hex(canonical_bytes(numbers_as_text(inputs.case)))
    assert payload["case_sha256"] == plan_payload(plan_inputs())["case_sha256"]
    assert payload["answer"]["total_flow_m3_per_h"] == plan_payload(plan_inputs())["answer"]["total_flow_m3_per_h"]


def test_the_plan_holds_the_case_as_agreed() -> None:
    agreed = plan_payload(plan_inputs())["case"]["agreed"]
    assert {key: Decimal(text) for key, text in agreed.items()} == {key: Decimal(str(v)) for key, v in AGREED.items()}


def test_an_amendment_names_its_reason_and_the_plan_before_it() -> None:
    earlier = plan_payload(plan_inputs())
    accord = plan_payload(plan_inputs(plan_number=2, amendment_reason="One pump lost", earlier_plan=earlier))["accord"]
    assert (accord["plan_number"], accord["amendment_reason"]) == (2, "One pump lost")
    assert accord["earlier_plan_sha256"] == sha256_hex(plan_bytes(earlier))
    assert accord["trail"] == {"position": 412, "sha256": "c" * 64}


def test_a_plan_whose_conditions_are_all_unknown_holds_every_item() -> None:
    checklist = plan_payload(plan_inputs(conditions=TransferConditions(), marks=()))["checklist"]
    assert len(checklist["items"]) == 90
    assert checklist["left_out"] == []
