"""Moving pressure, arms and pumps on the page of an assessment: the answer follows, the stored one stays."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse

from compat.assessing.actions import make_assessment, worked_out
from compat.assessing.models import Assessment
from compat.case.answer import answer_case
from compat.case.case_file import AgreedFacts, CaseFile, OperationFacts
from compat.case.composing import compose_case, setting_of
from shared.models import Person, TrailRow
from shared.quantities import display
from terminals.models import Berth
from tests.compat.assessing.conftest import OPERATION, ClientOf, make_setting
from vessels.models import Vessel

BOTH_PUMPS = {"pump_0_running": "on", "pump_1_running": "on"}


@pytest.fixture
def client(client_of: ClientOf, ship_officer: Person) -> Client:
    return client_of(ship_officer)


@pytest.fixture
def address(assessment: Assessment) -> str:
    return reverse("assessment", args=[assessment.public_id])


def moved_case(assessment: Assessment, pressure: float, arms: tuple[int, ...], running: tuple[bool, bool]) -> CaseFile:
    """Return the case that the page should answer, composed without the page."""
    case, berth = assessment.case_file(), assessment.berth_revision.berth_facts()
    setting = setting_of(case, berth)
    pumps = [
        state.model_copy(update={"running": runs}) for state, runs in zip(setting.operation.pumps, running, strict=True)
    ]
    operation = setting.operation.model_copy(update={"pumps": pumps})
    agreed = AgreedFacts(manifold_pressure_bar_gauge=pressure)
    return compose_case(case.ship, berth, replace(setting, arms_connected=arms, operation=operation, agreed=agreed))


@pytest.mark.parametrize(
    ("pressure", "arms", "running"),
    [(6.5, (2,), (True, True)), (8.0, (1,), (True, True)), (5.0, (1,), (False, True)), (9.5, (2,), (True, False))],
)
def test_the_answer_follows_what_is_moved(
    client: Client,
    address: str,
    assessment: Assessment,
    pressure: float,
    arms: tuple[int, ...],
    running: tuple[bool, bool],
) -> None:
    """Rate, speed and discharge gauge on the page are those of the moved case; without scripts the page is whole."""
    sent = {"pressure": str(pressure), "arm_0": str(arms[0])}
    sent |= {f"pump_{number}_running": "on" for number, runs in enumerate(running) if runs}
    expected = answer_case(moved_case(assessment, pressure, arms, running))
    discharge = next(pump.discharge_pressure_bar_gauge for pump in expected.pumps if pump.running)
    part = client.get(address, sent, HTTP_HX_REQUEST="true").text
    whole = client.get(address, sent).text
    assert "<html" not in part
    assert "<html" in whole
    for page in (part, whole):
        assert display(expected.total_flow_m3_per_h, "m³/h") in page
        assert display(expected.common_speed_rpm, "rpm") in page
        assert f">{display(discharge, 'bar').split(chr(0xA0))[0]}<" in page


def test_the_part_replaces_every_region_that_depends_on_the_answer(client: Client, address: str) -> None:
    """The pictures come from addresses that carry what was moved."""
    sent = {"pressure": "6", "arm_0": "2", **BOTH_PUMPS}
    part = client.get(address, sent, HTTP_HX_REQUEST="true")
    for region in ("glance", "limits", "rest", "what-if-result"):
        assert f'id="{region}"' in part.text
    assert f"{address}diagram.svg?pressure=6&amp;arm_0=2" in part.text
    assert part["Vary"].count("HX-Request") == 1


def test_the_stored_answer_is_shown_until_something_is_moved(
    client: Client, address: str, assessment: Assessment
) -> None:
    """The page shows the stored numbers even if the engine would now say something else."""
    answer = dict(assessment.answer) | {"total_flow_m3_per_h": 1234.0}
    Assessment.objects.filter(pk=assessment.pk).update(answer=answer)
    assert display(1234.0, "m³/h") in client.get(address).text


def test_the_difference_to_the_stored_answer_is_told(client: Client, address: str, assessment: Assessment) -> None:
    before, after = assessment.answer, answer_case(moved_case(assessment, 7.0, (2,), (True, True)))
    sent = {"pressure": "7", "arm_0": "2", **BOTH_PUMPS}
    less = display(before["total_flow_m3_per_h"] - (after.total_flow_m3_per_h or 0), "m³/h")
    assert f"rate {less} less" in client.get(address, sent).text
    unmoved = client.get(address, {"pressure": "8", "arm_0": "2", **BOTH_PUMPS}).text
    assert "What if: not stored" not in unmoved


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"pressure": "x"}, "Agreed manifold pressure “x” bar is not a number; allowed: 0.1 to 400 bar."),
        ({"pressure": ""}, "Agreed manifold pressure is missing; a sought speed needs it as a limit."),
        ({"arm_0": "0"}, "No arm or hose is connected; connect at least one."),
        ({"arm_0": "7"}, "Select a valid choice"),
        ({"pump_0_running": "", "pump_1_running": ""}, "No pump is running; tick at least one."),
    ],
)
def test_what_can_not_be_worked_out_leaves_the_last_answer(
    client: Client, address: str, sent: dict[str, str], sentence: str
) -> None:
    """The sentence stands beside the form, and htmx is told to leave the rest as it is."""
    given = {"pressure": "8", "arm_0": "2", **BOTH_PUMPS, **sent}
    given = {name: text for name, text in given.items() if text or name == "pressure"}
    part = client.get(address, given, HTTP_HX_REQUEST="true")
    assert sentence in part.text
    assert part["HX-Reswap"] == "none"
    assert 'id="glance"' not in part.text
    whole = client.get(address, given)
    assert whole.status_code == 200
    assert sentence in whole.text


def test_what_one_step_would_buy_is_told_for_what_is_shown(
    client: Client, address: str, assessment: Assessment
) -> None:
    """One bar more on the moved case, worked out here without the page."""
    sent = {"pressure": "5", "arm_0": "2", **BOTH_PUMPS}
    now, then = (
        answer_case(moved_case(assessment, pressure, (2,), (True, True))).total_flow_m3_per_h or 0.0
        for pressure in (5.0, 6.0)
    )
    part = client.get(reverse("assessment-steps", args=[assessment.public_id]), sent).text
    assert f"{display(then - now, 'm³/h')} more" in part
    assert display(then, "m³/h") in part
    assert part.strip() in client.get(address, sent).text
    moved = client.get(address, sent, HTTP_HX_REQUEST="true").text
    assert "What one step would buy" not in moved
    assert f'hx-get="{address}steps/?pressure=5' in moved


def test_no_operating_point_is_an_answer(client: Client, address: str, assessment: Assessment) -> None:
    """Below the pressure at rest nothing flows, and there is no picture to draw."""
    assert assessment.answer["manifold_pressure_at_rest_bar_gauge"] > 0.5
    sent = {"pressure": "0.5", "arm_0": "2", **BOTH_PUMPS}
    part = client.get(address, sent, HTTP_HX_REQUEST="true")
    assert "holds against the manifold at rest" in part.text
    assert 'data-diagram=""' in part.text
    picture = reverse("assessment-diagram", args=[assessment.public_id])
    assert client.get(picture, sent).status_code == 404


def test_keeping_makes_an_assessment_of_its_own(client: Client, address: str, assessment: Assessment) -> None:
    """On the same revisions, with a row in the trail that names where it came from; the first one is untouched."""
    before = Assessment.objects.values().get(pk=assessment.pk)
    sent = {"pressure": "6", "arm_0": "1", **BOTH_PUMPS, "title": "One arm"}
    answer = client.post(reverse("assessment-keep", args=[assessment.public_id]), sent)
    made = Assessment.objects.exclude(pk=assessment.pk).get()
    assert answer["Location"] == reverse("assessment", args=[made.public_id])
    assert (made.title, made.vessel_revision, made.berth_revision) == (
        "One arm",
        assessment.vessel_revision,
        assessment.berth_revision,
    )
    expected = moved_case(assessment, 6.0, (1,), (True, True))
    assert made.case_file() == expected.model_copy(update={"title": "One arm"})
    assert made.answer == worked_out(made.case_file()).document()
    row = TrailRow.objects.filter(act="assessment made").latest("position")
    assert f'"variant_of":"{assessment.public_id}"' in row.facts
    assert Assessment.objects.values().get(pk=assessment.pk) == before


@pytest.mark.parametrize("change", [{"title": ""}, {"pressure": "x"}, {"title": "t" * 121}])
def test_what_can_not_be_kept_is_told_and_not_stored(
    client: Client, assessment: Assessment, change: dict[str, str]
) -> None:
    sent = {"pressure": "6", "arm_0": "2", **BOTH_PUMPS, "title": "Kept", **change}
    answer = client.post(reverse("assessment-keep", args=[assessment.public_id]), sent, follow=True)
    assert "Not kept:" in answer.text
    assert Assessment.objects.count() == 1


def test_stated_speeds_are_moved_pump_by_pump(
    client: Client, ship_officer: Person, vessel: Vessel, berth: Berth, now: datetime
) -> None:
    """Where speeds are stated the page offers them, and the rate follows them and not the pressure."""
    states = [{**state, "speed_rpm": 1200.0} for state in OPERATION["pumps"]]
    operation = OperationFacts.model_validate({"speed": "as stated", "pumps": states})
    made = make_assessment(
        by=ship_officer, now=now, vessel=vessel, berth=berth, setting=make_setting(operation=operation)
    )
    address = reverse("assessment", args=[made.public_id])
    sent = {"pressure": "8", "arm_0": "2", **BOTH_PUMPS, "pump_0_speed": "1300", "pump_1_speed": "1300"}
    faster = client.get(address, sent, HTTP_HX_REQUEST="true").text
    moved = [{**state, "speed_rpm": 1300.0} for state in OPERATION["pumps"]]
    case = made.case_file().model_copy(
        update={"operation": OperationFacts.model_validate({"speed": "as stated", "pumps": moved})}
    )
    assert display(answer_case(case).total_flow_m3_per_h, "m³/h") in faster
    assert "The speeds, as stated" in faster
    too_fast = client.get(address, {**sent, "pump_0_speed": "1700"}, HTTP_HX_REQUEST="true").text
    assert "Speed of Cargo pump P1 is 1700 rpm; allowed: 900 to 1500 rpm." in too_fast


def test_a_pressure_that_was_not_touched_stays_the_same_to_the_last_digit(
    client: Client, ship_officer: Person, assessment: Assessment
) -> None:
    """A person who sees kgf/cm² sends back seven figures of 8 bar, and the case is still 8 bar exactly."""
    ship_officer.units = {"pressure": "kgf/cm²"}
    ship_officer.save()
    address = reverse("assessment", args=[assessment.public_id])
    shown = client.get(address).context["form"]["pressure"].initial
    assert shown == ["8.15773", "kgf/cm²"]
    page = client.get(address, {"pressure": shown[0], "pressure_unit": shown[1], "arm_0": "2", **BOTH_PUMPS})
    assert "What if: not stored" not in page.text
    assert "8.16\u00a0kgf/cm²" in page.text
