"""The pages that work out a stay file, a loading file or a typed loading, and another plan beside a stay."""

from __future__ import annotations

import json
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from compat.assessing.models import Assessment
from compat.stay.beside import beside_rows, most_saved
from compat.stay.file import check_stay
from compat.stay.loading import answer_loading, check_loading
from compat.stay.variants import answer_with_variants
from shared.models import Person
from tests.compat.assessing.conftest import ClientOf
from tests.compat.assessing.test_stay_page import CAUTION, stay_address
from tests.compat.stay.test_loading_file import loading_document
from tests.compat.stays import shore_tank, stay_document

LINES = "1P 300 2000 0 98 50 0\n1S 300 2000 500 98 50 100"
ASKED = {
    "shore_rate_m3_per_h": "1200",
    "topping_off_rate_m3_per_h": "200",
    "vent_capacity_m3_per_h": "1250",
    "static_accumulator": "on",
    "tanks": LINES,
}
HTMX = {"HX-Request": "true"}


@pytest.fixture
def client(client_of: ClientOf, ship_officer: Person) -> Client:
    return client_of(ship_officer)


def uploaded(document: object, name: str = "night.json") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, json.dumps(document).encode(), "application/json")


@pytest.mark.parametrize("page", ["stay-file", "loading"])
def test_whoever_is_not_signed_in_is_led_to_sign_in(page: str, client_of: ClientOf) -> None:
    answer = client_of(None).get(reverse(page))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign-in"))


def test_the_list_leads_to_both(client: Client) -> None:
    page = client.get(reverse("assessment-list")).text
    for name in ("stay-file", "loading"):
        assert f'href="{reverse(name)}"' in page
        assert client.get(reverse(name)).status_code == 200


def test_a_stay_file_shows_the_plan_and_the_one_that_saves_most_beside_it(client: Client) -> None:
    document = stay_document()
    document["case"]["agreed"]["manifold_pressure_bar_gauge"] = 5.0
    page = client.post(reverse("stay-file"), {"file": uploaded(document)}).text
    answer, variants = answer_with_variants(check_stay(document, "x"))
    best = most_saved(variants)
    assert best is not None
    assert best.hours_saved == max(one.hours_saved for one in variants if one.hours_saved is not None)
    assert f'data-hours="{answer.hours:.4f}"' in page
    assert f'<th scope="col" class="number">{best.label.capitalize()}</th>' in page
    assert f"{best.answer.hours:.2f} h</td>" in page
    assert page.count("data:image/svg+xml;base64,") == 4
    assert CAUTION in page


def test_another_plan_is_chosen_with_the_text_that_came_back(client: Client) -> None:
    text = json.dumps(stay_document())
    page = client.post(reverse("stay-file"), {"text": text, "beside": "pumps-1"}, headers=HTMX).text
    assert "One pump only</th>" in page
    assert "<title>" not in page
    assert "&quot;berth-accord-stay/1&quot;" in page


def test_problems_of_a_stay_are_told_with_their_hour(client: Client) -> None:
    small = stay_document(shore_tanks=[shore_tank(full_at_m3=9000.0)])
    page = client.post(reverse("stay-file"), {"file": uploaded(small)}).text
    assert "not to be settled" in page
    assert "the receiving tanks are full with" in page


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({}, "No file is chosen"),
        ({"file": SimpleUploadedFile("cut.json", b'{"format": "berth')}, "cut.json is not whole JSON"),
        ({"text": "{}"}, "The text: case is missing"),
        ({"file": uploaded(stay_document(cargo_tanks=[]))}, "cargo_tanks has 0 entries"),
    ],
)
def test_a_file_that_is_none_is_refused_and_the_last_result_stays(
    sent: dict[str, object], sentence: str, client: Client
) -> None:
    answer = client.post(reverse("stay-file"), sent, headers=HTMX)
    assert sentence in answer.text
    assert answer["HX-Retarget"] == "#stay-problems"


def test_a_loading_file_and_the_same_loading_typed_in_come_out_alike(client: Client) -> None:
    worked = answer_loading(check_loading(loading_document(), "x"))
    from_file = client.post(reverse("stay-file"), {"file": uploaded(loading_document())}).text
    typed = client.get(f"{reverse('loading')}?{urlencode(ASKED)}").text
    for page in (from_file, typed):
        assert f'data-hours="{worked.hours:.4f}"' in page
        assert "vents at 1.25 times the rate" in page
        assert "1S is at its topping level" in page
        assert CAUTION in page


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"tanks": "1P 300 2000"}, "Line 1 of the tanks is “1P 300 2000”; write a name and 6 numbers"),
        ({"tanks": ""}, "Tanks are missing"),
        ({"tanks": f"{LINES}\n1P 300 2000 0 98 50 0"}, "Tank 1P is given twice; give each once."),
        ({"tanks": "1P 300 2000 0 99.5 50 0"}, "98.5"),
        ({"shore_rate_m3_per_h": "-3"}, "-3"),
    ],
)
def test_what_does_not_fit_is_told_and_what_was_typed_stays(
    changes: dict[str, str], sentence: str, client: Client
) -> None:
    page = client.get(f"{reverse('loading')}?{urlencode(ASKED | changes)}").text
    assert sentence in page
    assert 'value="1250"' in page
    assert 'id="loading-head"' not in page


def test_the_page_of_an_assessment_puts_a_chosen_plan_beside(client: Client, assessment: Assessment) -> None:
    page = client.get(stay_address(assessment, beside="pressure")).text
    assert "1 bar more at the manifold</th>" in page
    assert "Side by side" in page
    assert '<input type="hidden" name="beside" value="pressure">' in page


def test_rows_beside_say_how_far_both_plans_are_apart() -> None:
    answer, variants = answer_with_variants(check_stay(stay_document(), "x"))
    fewer = next(one for one in variants if one.key == "pumps-1")
    rows = {row.label: row for row in beside_rows(answer, fewer.answer)}
    whole = rows["Hours at the berth"]
    assert whole.word == "more"
    assert whole.apart == pytest.approx(fewer.answer.hours - answer.hours)
    parts = [row for label, row in rows.items() if label.startswith("Hours of")]
    assert sum(row.second or 0.0 for row in parts) == pytest.approx(whole.second)
    assert rows["Ashore"].word == "the same"
    assert rows["Fuel for the pumps"].word == "not known"
    assert rows["Ashore"].apart is None
