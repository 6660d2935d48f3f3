"""Surge in an accord: closing times that can't be accepted, and surge as a part of the signed plan."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest

from compat.accord.bargaining import OutsideLimitError, accept_value, propose_value
from compat.accord.engine import refusals, settle_refusals, warnings, work_out
from compat.accord.plan_document import plan_bytes, plan_payload
from compat.accord.plan_parts import documents_of
from compat.accord.plan_pdf import plan_html
from compat.case.case_file import check_case
from shared.models import Person
from tests.builders import NOW, Document, make_berth, make_vessel
from tests.compat.accord.building import CLOSING, HIGHEST, PRESSURE, START, open_accord
from tests.compat.accord.plan_builders import plan_file, plan_inputs
from tests.compat.accord.test_plan_document import floats_in
from tests.compat.surges import short_case

OTHERS = {PRESSURE: Decimal(8), HIGHEST: Decimal(2800), START: Decimal(500)}
QUICK, SLOW = Decimal(5), Decimal(90)


def test_a_time_shorter_than_the_safe_one_is_refused_with_both_ways_out() -> None:
    told = refusals(short_case(), CLOSING, QUICK, OTHERS)
    assert len(told) == 1
    assert "a closing time of 5 s is too short for the shore valve (terminal): the shortest safe one is " in told[0]
    assert "Agree a longer time, or a highest rate of no more than" in told[0]
    needed = Decimal(told[0].partition("the shortest safe one is ")[2].partition(" s.")[0])
    assert refusals(short_case(), CLOSING, needed, OTHERS) == []
    assert refusals(short_case(), CLOSING, needed - 1, OTHERS) != []


def test_a_rate_is_refused_that_the_agreed_time_does_not_allow_and_a_lower_one_is_not() -> None:
    agreed = {**OTHERS, CLOSING: QUICK}
    told = refusals(short_case(), HIGHEST, Decimal(2800), agreed)
    assert any("too short for the shore valve" in sentence for sentence in told)
    allowed = Decimal(told[0].partition("no more than ")[2].partition("\u00a0")[0].replace(",", ""))
    assert refusals(short_case(), HIGHEST, allowed - 5, agreed) == []
    assert settle_refusals(short_case(), {**agreed, HIGHEST: allowed - 5, START: Decimal(100)}) == []


def test_the_answer_on_the_table_is_held_to_the_rate_that_surge_leaves() -> None:
    free, held = (work_out(short_case(), {**OTHERS, CLOSING: time}).answer for time in (SLOW, QUICK))
    assert free is not None
    assert held is not None
    assert held["binding"] == "surge-rate-shore-valve"
    assert held["total_flow_m3_per_h"] < free["total_flow_m3_per_h"]


def test_without_surge_facts_a_time_is_accepted_and_the_plan_warns() -> None:
    case = short_case()
    del case["berth"]["surge"], case["ship"]["surge"]
    assert refusals(case, CLOSING, QUICK, OTHERS) == []
    answer = work_out(case, {**OTHERS, CLOSING: QUICK}).answer
    assert answer is not None
    assert any(text.startswith("Not decided: Pressure surge") for text in warnings(answer["limits"]))


@pytest.mark.django_db
def test_the_other_side_can_not_accept_it(ship_officer: Person, terminal_officer: Person) -> None:
    case = short_case()
    assert ship_officer.organisation is not None
    assert terminal_officer.organisation is not None
    vessel = make_vessel(ship_officer.organisation, ship_officer, surge=case["ship"]["surge"])
    own = {key: case["berth"][key] for key in ("surge", "shore_line", "arms")}
    berth = make_berth(terminal_officer.organisation, terminal_officer, **own)
    accord = open_accord(
        ship_officer,
        terminal_officer,
        vessel_revision=vessel.revisions.get(),
        berth_revision=berth.revisions.get(),
        case=check_case(case, "case"),
        ship_name="Brisk Halvard",
        berth_name="Inner berth",
    )
    for key, value in OTHERS.items():
        accept_value(
            by=terminal_officer,
            now=NOW,
            proposal=propose_value(by=ship_officer, now=NOW, accord=accord, key=key, value=value, seen=None),
        )
    lying = propose_value(by=ship_officer, now=NOW, accord=accord, key=CLOSING, value=QUICK, seen=None)
    with pytest.raises(OutsideLimitError, match="too short for the shore valve"):
        accept_value(by=terminal_officer, now=NOW, proposal=lying)
    assert accord.proposals.get(pk=lying.pk).status == "open"
    slower = propose_value(by=terminal_officer, now=NOW, accord=accord, key=CLOSING, value=SLOW, seen=lying.pk)
    assert accept_value(by=ship_officer, now=NOW, proposal=slower).status == "accepted"


def part_of(case: Document, *, shared: bool = True) -> dict[str, Any]:
    return documents_of(check_case(case, "case"), line_data_shared=shared)["surge"]


def test_the_plan_holds_surge_without_floats_and_prints_it_from_its_bytes() -> None:
    part = part_of(short_case(closing_time_s=90.0))
    payload = plan_payload(plan_inputs(parts={"surge": part}))
    assert floats_in(payload) == []
    assert json.loads(plan_bytes(payload))["parts"]["surge"] == part
    html = plan_html(plan_file(parts={"surge": part}))
    for text in (
        "Pressure surge and start-up",
        "Closing times",
        "Joukowsky",
        "2L/a",
        "Shore valve shuts in 90 s",
        "What it assumes, and when to ask for more",
        "a specialist surge study decides",
    ):
        assert text in html
    assert html.count("data:image/svg+xml;base64,") >= 2
    assert len(part["pictured"]["along"]["distance_m"]) < 400


def test_a_kept_line_stays_out_of_the_plan() -> None:
    case = short_case(closing_time_s=90.0)
    for number, run in enumerate(case["berth"]["shore_line"]):
        for wall in case["berth"]["surge"]["walls"]:
            wall["run"] = f"Hidden {number}" if wall["run"] == run["name"] else wall["run"]
        run["name"] = f"Hidden {number}"
    told, kept = (json.dumps(part_of(case, shared=shared)) for shared in (True, False))
    assert "Hidden 0" in told
    assert "Hidden" not in kept
    part = json.loads(kept)
    assert part["pictured"] is None
    assert [event["runs"] for event in part["events"]] == [[]] * len(part["events"])
    assert part["closing"][0]["shortest_within_ratings_s"]


def test_a_plan_without_surge_facts_says_so_and_what_to_ask() -> None:
    case = short_case()
    del case["berth"]["surge"], case["ship"]["surge"]
    part = part_of(case)
    assert part["state"] == "not decided"
    html = plan_html(plan_file(parts={"surge": part}))
    assert "Surge is not decided" in html
    assert "ask the terminal" in html
    assert "specialist surge study" in html
