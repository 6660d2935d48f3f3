"""The stay of an accord: who plans it, what keeps it from being settled, what the plan holds of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from compat.accord import actions
from compat.accord.models import Accord
from compat.accord.moving import MeanwhileError
from compat.accord.plan_file import read_plan
from compat.accord.plan_pdf import pdf_to_sign
from compat.accord.plan_stay import series_of_document
from compat.accord.settling import NotSettledError
from compat.accord.states import State
from compat.accord.staying import stay_file_of
from compat.accord.values import case_with
from compat.stay.file import StayFile, check_stay
from compat.stay.outcome import answer_stay
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of
from tests.builders import NOW
from tests.compat.accord.building import MORE_VALUES, VALUES, agree, bring_to, open_accord, write_answers
from tests.compat.accord.plan_builders import plan_file
from tests.compat.assessing.test_stay_page import ASKED
from tests.compat.stays import Document, floating_water, shore_tank, stay_document

ClientOf = Callable[[Person | None], Client]


def stay_of(accord: Accord, **changes: Any) -> StayFile:
    """The stay of the tests on the accord's own case."""
    stated = stay_document(**{"stages": {"stripping": {"rate_m3_per_h": 200.0}, "line_clearing_h": 0.5}, **changes})
    return check_stay(stated | {"case": accord.case}, "stay")


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    """Everything agreed and answered, but not settled."""
    opened = open_accord(ship_officer, terminal_officer)
    agree(opened, ship_officer, terminal_officer)
    write_answers(opened, ship_officer, terminal_officer)
    return opened


def settled_with(accord: Accord, by: Person, **changes: Any) -> dict[str, Any]:
    """Plan the stay, settle, and return the plan's payload."""
    actions.plan_stay(by=by, now=NOW, accord=accord, file=stay_of(accord, **changes))
    return read_plan(bytes(actions.settle(by=by, now=NOW, accord=accord).payload or b"")).payload


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "installation_admin"])
def test_only_officers_of_the_parties_plan_a_stay_or_take_it_out(
    who: str, accord: Accord, ship_officer: Person, request: pytest.FixtureRequest
) -> None:
    with pytest.raises(NotAllowedError):
        actions.plan_stay(by=request.getfixturevalue(who), now=NOW, accord=accord, file=stay_of(accord))
    actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord))
    with pytest.raises(NotAllowedError):
        actions.drop_stay(by=request.getfixturevalue(who), now=NOW, accord=accord)
    accord.refresh_from_db()
    assert accord.stay is not None


@pytest.mark.parametrize("who", ["ship_officer", "ship_admin", "terminal_officer", "terminal_admin"])
def test_either_side_plans_it_with_a_row_in_the_trail(who: str, accord: Accord, request: pytest.FixtureRequest) -> None:
    person = request.getfixturevalue(who)
    actions.plan_stay(by=person, now=NOW, accord=accord, file=stay_of(accord))
    actions.drop_stay(by=person, now=NOW, accord=accord)
    first, second = TrailRow.objects.filter(subject=accord.subject, act__startswith="stay").order_by("position")
    assert (first.act, second.act) == ("stay planned", "stay taken out")
    assert facts_of(first)["tanks"] == 6
    assert len(str(facts_of(first)["stay_sha256"])) == 64


def test_a_stay_changes_only_on_the_table(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    for act in (
        lambda: actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord)),
        lambda: actions.drop_stay(by=ship_officer, now=NOW, accord=accord),
    ):
        with pytest.raises(MeanwhileError, match="is settled"):
            act()


def test_the_stay_of_another_ship_and_the_same_stay_again_are_refused(accord: Accord, ship_officer: Person) -> None:
    other = check_stay(stay_document(), "other")
    other = other.model_copy(
        update={"case": other.case.model_copy(update={"ship": other.case.ship.model_copy(update={"name": "Vesla"})})}
    )
    with pytest.raises(InputError, match="is of the ship Vesla; this accord is of Astrid Halvard"):
        actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=other)
    actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord))
    with pytest.raises(InputError, match="part of the accord already"):
        actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord))


UNSOLVED: dict[str, tuple[Document, str]] = {
    "too small a shore tank": ({"shore_tanks": [shore_tank(full_at_m3=12_000.0)]}, "receiving tanks are full with"),
    "arms that lose reach": (
        {"water": floating_water(greatest_manifold_elevation_m=16.0)},
        "the manifold is above the arms' reach: allowed 16 m",
    ),
    "a stop longer than the discharge": (
        {"stops": [{"reason": "shift of tank", "begins_h": 3.0, "lasts_h": 80.0}]},
        "lasts 80 h, longer than the whole discharge",
    ),
    "a tide that ends too early": (
        {"water": floating_water(tide=[{"at_h": -3.0, "height_m": 0.8}, {"at_h": 3.2, "height_m": 4.4}])},
        "Add the high and low waters around it",
    ),
}


@pytest.mark.parametrize("named", UNSOLVED)
def test_an_unsolved_stay_keeps_the_accord_from_being_settled_with_reason_and_hour(
    named: str, accord: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    changes, sentence = UNSOLVED[named]
    actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord, **changes))
    with pytest.raises(NotSettledError) as refused:
        actions.settle(by=terminal_officer, now=NOW, accord=accord)
    told = [one for one in refused.value.left if sentence in one]
    assert told
    assert told[0].startswith("The stay can't be settled: ")
    assert "hour" in told[0]
    accord.refresh_from_db()
    assert accord.state == State.ON_TABLE
    actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord))
    actions.settle(by=terminal_officer, now=NOW, accord=accord)


def test_the_signed_plan_holds_the_stay_as_decimals(accord: Accord, ship_officer: Person) -> None:
    payload = settled_with(accord, ship_officer, allowed_h=36.0)
    part = payload["parts"]["stay"]
    file = stay_file_of(case_with(accord.case, VALUES | MORE_VALUES), part_stated(part), line_shared=True)
    answer = answer_stay(file)
    assert Decimal(part["answer"]["hours"]) == pytest.approx(Decimal(answer.hours), rel=Decimal("1e-5"))
    assert [row["stage"] for row in part["answer"]["hourly"]] == [row.stage for row in answer.hourly]
    gauges = [row["manifold_pressure_bar_gauge"] for row in part["answer"]["hourly"]]
    for told, row in zip(gauges, answer.hourly, strict=True):
        assert (told is None) == (row.manifold_pressure_bar_gauge is None)
        assert told is None or float(told) == pytest.approx(row.manifold_pressure_bar_gauge, rel=1e-5)
    assert not floats_in(payload)
    series = series_of_document(part["curves"])
    assert series.hour == pytest.approx(answer.series.hour, rel=1e-5)
    assert series.highest_reach_m == 22.0
    assert payload["schema_version"] == "1.1"


def part_stated(part: dict[str, Any]) -> dict[str, Any]:
    """Read decimal text back, as anyone who checks the plan would."""

    def read(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: read(item) for key, item in value.items()}
        if isinstance(value, list):
            return [read(item) for item in value]
        try:
            return float(value) if isinstance(value, str) else value
        except ValueError:
            return value

    found: dict[str, Any] = read(part["stated"])
    for tank in found["cargo_tanks"] + found["shore_tanks"]:
        tank["key"] = str(tank["key"])
    return found


def floats_in(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [one for item in value.values() for one in floats_in(item)]
    if isinstance(value, list):
        return [one for item in value for one in floats_in(item)]
    return [value] if isinstance(value, float) else []


def test_the_printed_plan_shows_stages_pictures_and_every_hour(accord: Accord, ship_officer: Person) -> None:
    payload = settled_with(accord, ship_officer)
    reader = PdfReader(BytesIO(pdf_to_sign(plan_file(parts=payload["parts"]))))
    text = "\n".join(page.extract_text() for page in reader.pages)
    for words in (
        "The stay, hour by hour",
        "What the gauges should read each hour",
        "Line filling",
        "Stripping",
        "Rate, manifold pressure and pump speed",
        "The manifold, the water and the reach of the arms",
        "highest that the arms reach",
        "Hours at the berth",
    ):
        assert words in text, words
    for row in payload["parts"]["stay"]["answer"]["hourly"]:
        assert f"{Decimal(row['hour']):.2f}" in text


def test_a_line_that_the_terminal_keeps_stays_out_of_the_stay_too(
    ship_officer: Person, terminal_officer: Person
) -> None:
    accord = open_accord(ship_officer, terminal_officer, line_data_shared=False)
    agree(accord, ship_officer, terminal_officer)
    write_answers(accord, ship_officer, terminal_officer)
    part = settled_with(accord, terminal_officer)["parts"]["stay"]
    assert "shore_tanks" not in part["stated"]
    assert len(part["stated_sha256"]) == 64
    assert "line filling" not in {stage["name"] for stage in part["answer"]["stages"]}


def test_an_amendment_carries_the_stay_over(accord: Accord, ship_officer: Person) -> None:
    settled_with(accord, ship_officer)
    Accord.objects.filter(pk=accord.pk).update(state=State.IN_FORCE)
    accord.refresh_from_db()
    amendment = actions.open_amendment(
        by=ship_officer,
        now=NOW,
        accord=accord,
        reason="Another hour.",
        planned_start=accord.planned_start,
        newest_facts=False,
    )
    assert amendment.stay == accord.stay


def address(accord: Accord, page: str = "accord-stay") -> str:
    return reverse(page, args=[accord.public_id])


def test_the_form_tries_a_stay_before_it_becomes_part(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    sent = {key: value for key, value in ASKED.items() if key != "start_rate"}
    tried = client.post(address(accord, "accord-stay-plan"), sent | {"act": "try"}).text
    assert "not part of the accord yet" in tried
    assert 'id="stay-head"' in tried
    accord.refresh_from_db()
    assert accord.stay is None
    page = client.post(address(accord, "accord-stay-plan"), sent | {"act": "plan"}, follow=True).text
    assert "The stay is part of the accord" in page
    assert 'id="stay-head"' in page
    for kept in ('value="32000"', 'value="11.5"', 'value="95"', "15.5 4.3"):
        assert kept in page
    assert "at the berth" in client.get(reverse("accord", args=[accord.public_id])).text


def test_while_the_form_changes_the_last_plan_stays_and_a_refused_one_is_only_told(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    client, moving = client_of(ship_officer), {"HX-Request": "true"}
    sent = {key: value for key, value in ASKED.items() if key != "start_rate"} | {"act": "try"}
    part = client.post(address(accord, "accord-stay-plan"), sent, headers=moving)
    assert "<html" not in part.text
    assert "not part of the accord yet" in part.text
    refused = client.post(address(accord, "accord-stay-plan"), sent | {"draught": "95"}, headers=moving)
    assert refused["HX-Retarget"] == "#stay-problems"
    assert "thing to correct" in refused.text
    assert 'id="stay-head"' not in refused.text


def test_another_plan_stands_beside_that_of_the_accord(
    accord: Accord, ship_officer: Person, ship_reader: Person, stranger: Person, client_of: ClientOf
) -> None:
    actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord))
    page = client_of(ship_reader).get(address(accord), {"beside": "pumps-1"}).text
    assert "One pump only" in page
    assert "Side by side" in page
    assert f"{address(accord)}?beside=pressure#beside" in page
    assert client_of(stranger).get(address(accord), {"beside": "pumps-1"}).status_code == 404


def test_a_refused_form_keeps_what_was_typed(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    sent = ASKED | {"draught": "95", "act": "plan"}
    page = client_of(ship_officer).post(address(accord, "accord-stay-plan"), sent).text
    assert 'value="95"' in page
    assert "thing to correct" in page


def test_a_stay_file_is_taken_and_another_kind_of_file_refused(
    accord: Accord, terminal_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(terminal_officer)
    text = json.dumps(stay_of(accord).model_dump(mode="json", exclude_none=True)).encode()
    file = SimpleUploadedFile("night.json", text, "application/json")
    page = client.post(address(accord, "accord-stay-file"), {"file": file}, follow=True).text
    assert "The stay is part of the accord" in page
    bad = SimpleUploadedFile("bad.json", b"{}", "application/json")
    assert "bad.json" in client.post(address(accord, "accord-stay-file"), {"file": bad}).text
    dropped = client.post(address(accord, "accord-stay-drop"), follow=True).text
    assert "The stay is taken out" in dropped


def test_a_reader_sees_the_stay_without_its_forms(
    accord: Accord, ship_officer: Person, ship_reader: Person, client_of: ClientOf
) -> None:
    actions.plan_stay(by=ship_officer, now=NOW, accord=accord, file=stay_of(accord))
    page = client_of(ship_reader).get(address(accord)).text
    assert 'id="stay-head"' in page
    assert "Make it part of the accord" not in page
