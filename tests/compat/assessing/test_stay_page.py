"""The page that plans a stay: who sees it, what it tells, and what it refuses."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse

from compat.assessing.models import Assessment
from compat.stay.file import check_stay
from compat.stay.outcome import answer_stay
from shared.models import Person
from tests.compat.assessing.conftest import ClientOf

CAUTION = "Follow local regulations and the terminal"
ASKED = {
    "quantity": "32000",
    "tank_bottom": "2.1",
    "pumps_off": "1",
    "start_rate": "500",
    "stripping_rate": "200",
    "clearing": "0.5",
    "shore_diameter": "95",
    "draught": "11.5",
    "immersion": "55",
    "reach_low": "6",
    "reach_high": "20",
    "tide": "-3.1 0.8\n3.1 4.4\n9.3 0.7\n15.5 4.3\n21.7 0.9\n27.9 4.5\n34.1 0.8",
}


@pytest.fixture
def client(client_of: ClientOf, ship_officer: Person) -> Client:
    return client_of(ship_officer)


def stay_address(assessment: Assessment, **changes: str) -> str:
    return f"{reverse('assessment-stay', args=[assessment.public_id])}?{urlencode(ASKED | changes)}"


def test_the_assessment_leads_to_its_stay(client: Client, assessment: Assessment) -> None:
    address = reverse("assessment-stay", args=[assessment.public_id])
    assert f'href="{address}"' in client.get(reverse("assessment", args=[assessment.public_id])).content.decode()
    page = client.get(address).content.decode()
    assert 'value="32000' in page
    assert 'id="stay-head"' not in page


def test_a_plan_with_stages_hours_pictures_and_cautions(client: Client, assessment: Assessment) -> None:
    page = client.get(stay_address(assessment)).content.decode()
    for words in ("Line filling", "Ramp", "Bulk", "Stripping", "Line clearing", "One more Arm 10 in", CAUTION):
        assert words in page
    assert "the same" in page
    assert "None of these plans saves hours" in page
    assert page.count("data:image/svg+xml;base64,") == 3
    beside = client.get(stay_address(assessment) + "&beside=pumps-1").content.decode()
    assert "Side by side" in beside
    assert beside.count("data:image/svg+xml;base64,") == 4
    file = client.get(stay_address(assessment).replace("/stay/?", "/stay.json?"))
    answer = answer_stay(check_stay(file.json(), "downloaded"))
    assert f'data-hours="{answer.hours:.4f}"' in page


def test_arms_that_lose_reach_keep_it_from_being_settled(client: Client, assessment: Assessment) -> None:
    page = client.get(stay_address(assessment, reach_high="13")).content.decode()
    assert "not to be settled" in page
    assert "above the arms" in page


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"quantity": "none"}, "To discharge"),
        ({"tide": "0 1\n6 4\n5 1"}, "hour 5 stands after hour 6"),
        ({"tide": "0 1\nsoon"}, "Line 2 of the tide is “soon”"),
        ({"tank_bottom": "14"}, "not below their surface"),
        ({"draught": ""}, "water.draught_m is missing"),
    ],
)
def test_what_is_refused_stays_typed(
    client: Client, assessment: Assessment, changes: dict[str, str], words: str
) -> None:
    page = client.get(stay_address(assessment, **changes)).content.decode()
    assert words in page
    assert 'id="stay-head"' not in page
    assert 'value="500"' in page


def test_while_inputs_change_the_last_plan_stays(client: Client, assessment: Assessment) -> None:
    good = client.get(stay_address(assessment), headers={"HX-Request": "true"})
    assert "<html" not in good.content.decode()
    assert "HX-Retarget" not in good
    bad = client.get(stay_address(assessment, quantity=""), headers={"HX-Request": "true"})
    assert bad["HX-Retarget"] == "#stay-problems"
    assert 'id="stay-problems-now"' in bad.content.decode()


def test_who_may_see_it(
    client_of: ClientOf, assessment: Assessment, ship_reader: Person, stranger: Person, auditor: Person
) -> None:
    for address in (stay_address(assessment), stay_address(assessment).replace("/stay/?", "/stay.json?")):
        assert client_of(ship_reader).get(address).status_code == 200
        assert client_of(stranger).get(address).status_code == 404
        assert client_of(auditor).get(address).status_code == 404
        assert client_of(None).get(address).status_code == 302


def test_a_line_that_is_kept_tells_nothing_of_itself(client: Client, kept_assessment: Assessment) -> None:
    page = client.get(stay_address(kept_assessment)).content.decode()
    assert "Hidden run" not in page
    assert "Line filling" not in page.split('id="stay-head"')[1].split("</tbody>")[0]
    with_content = client.get(stay_address(kept_assessment, line_content="600")).content.decode()
    assert "Line filling" in with_content.split('id="stay-head"')[1]
    file = client.get(stay_address(kept_assessment).replace("/stay/?", "/stay.json?"))
    assert file.status_code == 403
