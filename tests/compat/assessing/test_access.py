"""Every page about assessments as each of the cast: others do not learn that one exists, readers store nothing."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.urls import reverse

from compat.assessing.actions import keep_variant, make_assessment
from compat.assessing.models import Assessment
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from terminals.models import Berth
from tests.builders import make_vessel
from tests.compat.assessing.conftest import ClientOf, make_setting
from vessels.models import Vessel

ABOUT_ONE = [
    "assessment",
    "assessment-diagram",
    "assessment-profile",
    "assessment-case",
    "assessment-answer",
    "assessment-steps",
]
FOR_ALL = ["assessment-list", "assessment-case-file"]
STRANGERS = [
    "stranger",
    "terminal_officer",
    "terminal_admin",
    "other_terminal_officer",
    "auditor",
    "installation_admin",
]


@pytest.mark.parametrize("page", [*ABOUT_ONE, "assessment-keep"])
@pytest.mark.parametrize("who", STRANGERS)
def test_others_do_not_learn_that_an_assessment_exists(
    page: str, who: str, assessment: Assessment, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    address = reverse(page, args=[assessment.public_id])
    answer = client.post(address) if page == "assessment-keep" else client.get(address)
    assert answer.status_code == 404


@pytest.mark.parametrize("page", ABOUT_ONE)
@pytest.mark.parametrize("who", ["ship_reader", "ship_officer", "ship_admin"])
def test_people_of_the_operator_read(
    page: str, who: str, assessment: Assessment, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(reverse(page, args=[assessment.public_id])).status_code == 200


@pytest.mark.parametrize("page", FOR_ALL)
@pytest.mark.parametrize("who", ["ship_reader", *STRANGERS])
def test_the_list_and_case_files_are_open_to_everyone_signed_in(
    page: str, who: str, assessment: Assessment, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    """The list of another organisation does not name the assessment."""
    answer = client_of(request.getfixturevalue(who)).get(reverse(page))
    assert answer.status_code == 200
    if who != "ship_reader":
        assert assessment.title not in answer.text


@pytest.mark.parametrize("page", [*FOR_ALL, "assessment-new"])
def test_nobody_signed_in_is_asked_to(page: str, db: None, client_of: ClientOf) -> None:
    answer = client_of(None).get(reverse(page))
    assert answer.status_code == 302
    assert reverse("sign-in") in answer["Location"]


def test_a_reader_may_move_but_not_store(
    assessment: Assessment, vessel: Vessel, berth: Berth, ship_reader: Person, client_of: ClientOf
) -> None:
    """What if works for a reader; keeping it and making a new one are refused, and the pages do not offer them."""
    client = client_of(ship_reader)
    moved = {"pressure": "6", "arm_0": "2", "pump_0_running": "on", "pump_1_running": "on"}
    page = client.get(reverse("assessment", args=[assessment.public_id]), moved)
    assert "What if: not stored" in page.text
    assert reverse("assessment-keep", args=[assessment.public_id]) not in page.text
    assert reverse("assessment-new") not in client.get(reverse("assessment-list")).text
    kept = client.post(reverse("assessment-keep", args=[assessment.public_id]), {**moved, "title": "Mine"})
    assert kept.status_code == 403
    values = reverse("assessment-values", args=[vessel.public_id, berth.public_id])
    assert [client.get(reverse("assessment-new")).status_code, client.get(values).status_code] == [403, 403]
    assert client.post(values, {}).status_code == 403
    assert Assessment.objects.count() == 1


@pytest.mark.parametrize("who", ["stranger", "terminal_officer", "auditor"])
def test_a_ship_is_assessed_by_her_own_operator_only(
    who: str, vessel: Vessel, berth: Berth, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    """For another operator's people the form of this ship does not exist."""
    client = client_of(request.getfixturevalue(who))
    for page in ("assessment-values", "assessment-keel"):
        assert client.post(reverse(page, args=[vessel.public_id, berth.public_id])).status_code == 404


@pytest.mark.parametrize("who", ["ship_reader", "stranger", "terminal_officer", "auditor", "installation_admin"])
def test_the_acts_themselves_refuse(
    who: str, assessment: Assessment, vessel: Vessel, berth: Berth, now: datetime, request: pytest.FixtureRequest
) -> None:
    """Whatever page or command calls them; nothing is stored and nothing is written to the trail."""
    person, rows = request.getfixturevalue(who), TrailRow.objects.count()
    with pytest.raises(NotAllowedError):
        make_assessment(by=person, now=now, vessel=vessel, berth=berth, setting=make_setting())
    with pytest.raises(NotAllowedError):
        keep_variant(by=person, now=now, assessment=assessment, setting=make_setting())
    assert Assessment.objects.count() == 1
    assert TrailRow.objects.count() == rows


def test_a_colleague_of_another_ship_operator_does_not_assess_this_ship(
    stranger: Person, berth: Berth, vessel: Vessel, now: datetime
) -> None:
    """The stranger may assess ships, but not this one."""
    assert stranger.organisation is not None
    own = make_vessel(stranger.organisation, stranger, imo_number=None)
    make_assessment(by=stranger, now=now, vessel=own, berth=berth, setting=make_setting())
    with pytest.raises(NotAllowedError):
        make_assessment(by=stranger, now=now, vessel=vessel, berth=berth, setting=make_setting())
