"""The pages without scripts: from an assessment to a plan that verifies; refusals keep what was typed."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.test import Client
from django.urls import reverse

from compat.accord import actions
from compat.accord.answering import latest_answers
from compat.accord.bargaining import standing
from compat.accord.checklist.item import Side
from compat.accord.models import Accord, ProposalStatus
from compat.accord.plan_file import AUTHORITY_NAME, DATA_FILE_NAME, SIGNATURES_NAME
from compat.accord.states import State
from compat.accord.verifying import verify_data
from compat.assessing.models import Assessment
from compat.case.case_file import check_case
from shared.authority import load_certificate
from shared.models import Person
from tests.builders import NOW, SECRET, case_document, make_berth, make_vessel, ship_facts
from tests.compat.accord.asking import address, follow, told
from tests.compat.accord.building import (
    CLOSING,
    HIGHEST,
    PRESSURE,
    START,
    agree,
    answer_all,
    open_accord,
    write_more_values,
)
from vessels.models import VesselRevision

PACKAGE = (DATA_FILE_NAME, SIGNATURES_NAME, AUTHORITY_NAME)
ClientOf = Callable[[Person | None], Client]
CAUTION = "Follow local regulations and the terminal&#x27;s own procedures"


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


@pytest.fixture
def assessment(ship_officer: Person, terminal_officer: Person) -> Assessment:
    assert ship_officer.organisation is not None
    assert terminal_officer.organisation is not None
    case = check_case(case_document(), "case")
    return Assessment.objects.create(
        organisation=ship_officer.organisation,
        title="Gas oil to the Outer berth",
        vessel_revision=make_vessel(ship_officer.organisation, ship_officer).revisions.get(),
        berth_revision=make_berth(terminal_officer.organisation, terminal_officer).revisions.get(),
        case=case_document(),
        answer={"title": case.title},
        made_by=ship_officer,
        made_at=NOW,
    )


OPENING = {"place": "Port Merrow", "planned_start": "2031-04-15T06:00", "propose": "on", "is_crude": "no"}


def test_from_an_assessment_to_a_plan_that_verifies(
    assessment: Assessment, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    ship, terminal = client_of(ship_officer), client_of(terminal_officer)
    assert assessment.title in ship.get(reverse("accord-new")).text
    follow(ship, reverse("accord-open", args=[assessment.public_id]), **OPENING)
    accord = Accord.objects.get()
    assert (accord.place, accord.planned_start.isoformat()) == ("Port Merrow", "2031-04-15T06:00:00+00:00")
    assert accord.transfer_conditions().crude is False
    assert accord.transfer_conditions().night is None

    (proposal,) = accord.proposals.all()
    assert "Accept 8.00\u00a0bar\u00a0gauge" in terminal.get(address(accord)).text
    follow(terminal, address(accord, "accord-accept", proposal.pk))
    for key, value, unit in ((HIGHEST, "2800", "m³/h"), (START, "600", "m³/h"), (CLOSING, "45", "s")):
        follow(ship, address(accord, "accord-value", key), **{f"{key}-value": value, f"{key}-value_unit": unit})
        follow(terminal, address(accord, "accord-accept", accord.proposals.get(key=key).pk))
    write_more_values(accord, ship_officer, terminal_officer)
    answer_all(accord, ship_officer, terminal_officer)
    follow(ship, address(accord, "accord-settle"))
    accord.refresh_from_db()
    assert accord.state == State.SETTLED
    for client, title in ((terminal, "Loading Master"), (ship, "Chief Officer")):
        values = {"secret": SECRET, "title": title, "seen_sha256": accord.payload_sha256, "consents": "on"}
        assert CAUTION in client.get(address(accord, "accord-sign")).text
        follow(client, address(accord, "accord-sign"), **values)
    data = ship.get(address(accord, "accord-plan-data"))
    assert data["Content-Disposition"].endswith('-plan-1.zip"')
    files = ZipFile(BytesIO(data.content))
    plan, signatures, certificate = (files.read(f"plan-1/{name}") for name in PACKAGE)
    assert verify_data(plan, signatures, load_certificate(certificate)).holds
    assert "This plan is in force" in files.read("plan-1/state.txt").decode()
    pdf = terminal.get(address(accord, "accord-plan-pdf"))
    assert pdf.content.startswith(b"%PDF-")


def test_a_missing_place_keeps_the_rest_of_the_form(
    assessment: Assessment, ship_officer: Person, client_of: ClientOf
) -> None:
    where = reverse("accord-open", args=[assessment.public_id])
    answer = client_of(ship_officer).post(where, {**OPENING, "place": ""})
    assert answer.status_code == 200
    assert 'value="2031-04-15T06:00"' in answer.text
    assert not Accord.objects.exists()


def test_a_terminal_opens_another_accord_like_an_earlier_one(
    accord: Accord, terminal_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(terminal_officer)
    assert accord.title in client.get(reverse("accord-new")).text
    follow(client, reverse("accord-open-like", args=[accord.public_id]), **OPENING)
    other = Accord.objects.exclude(pk=accord.pk).get()
    assert (other.opened_side, other.ship_name) == ("terminal", accord.ship_name)


def test_an_assessment_of_another_organisation_does_not_exist(
    assessment: Assessment, stranger: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    for person in (stranger, terminal_officer):
        answer = client_of(person).get(reverse("accord-open", args=[assessment.public_id]))
        assert answer.status_code == 404


def test_a_value_is_typed_in_a_unit_of_ones_own(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    values = {f"{PRESSURE}-value": "7.5", f"{PRESSURE}-value_unit": "kgf/cm²"}
    answer = follow(client_of(ship_officer), address(accord, "accord-value", PRESSURE), **values)
    assert told(answer) == ["Highest manifold pressure: 7.5 kgf/cm² is on the table."]
    proposal = accord.proposals.get()
    # 1 kgf/cm² = 0.980665 bar, exact (NIST SP 811, appendix B; from memory)
    assert (str(proposal.value), proposal.typed) == ("7.354988", "7.5 kgf/cm²")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("401", "Highest manifold pressure is 401 bar; allowed: 0.1 to 400 bar."),
        ("seven", "Highest manifold pressure “seven” bar is not a number; allowed: 0.1 to 400 bar."),
        ("", "Highest manifold pressure is missing; allowed: 0.1 to 400 bar."),
    ],
)
def test_what_was_typed_stays_with_the_reason_beside_it(
    typed: str, sentence: str, accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    values = {f"{PRESSURE}-value": typed, f"{PRESSURE}-value_unit": "bar"}
    answer = client_of(ship_officer).post(address(accord, "accord-value", PRESSURE), values)
    assert sentence in answer.text
    assert not typed or f'name="{PRESSURE}-value" value="{typed}"' in answer.text
    assert not accord.proposals.exists()


def test_who_comes_second_sees_what_stands_and_keeps_what_was_typed(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    first = follow(
        client_of(terminal_officer),
        address(accord, "accord-value", PRESSURE),
        **{f"{PRESSURE}-value": "6", f"{PRESSURE}-value_unit": "bar"},
    )
    assert told(first) == ["Highest manifold pressure: 6 bar is on the table."]
    lying = accord.proposals.get()
    values = {f"{PRESSURE}-value": "9", f"{PRESSURE}-value_unit": "bar", f"{PRESSURE}-seen": ""}
    second = client_of(ship_officer).post(address(accord, "accord-value", PRESSURE), values)
    assert "meanwhile Tomas Reyes (terminal) has put 6 bar gauge on the table" in second.text
    assert f'name="{PRESSURE}-value" value="9"' in second.text
    assert f'name="{PRESSURE}-seen" value="{lying.pk}"' in second.text
    assert accord.proposals.count() == 1


def test_a_value_outside_a_limit_has_its_reason_and_no_button(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    proposal = actions.propose_value(
        by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(12), seen=None
    )
    client = client_of(terminal_officer)
    page = client.get(address(accord)).text
    assert "12 bar gauge is above the berth&#x27;s own manifold pressure limit" in page
    assert address(accord, "accord-accept", proposal.pk) not in page
    answer = follow(client, address(accord, "accord-accept", proposal.pk))
    assert "can&#x27;t be accepted" in told(answer)[0]
    proposal.refresh_from_db()
    assert proposal.status == ProposalStatus.OPEN


def test_what_a_value_would_mean_is_worked_out_before_it_is_sent(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    values = {f"{PRESSURE}-value": "6", f"{PRESSURE}-value_unit": "bar"}
    answer = client.get(address(accord, "accord-meaning", PRESSURE), values)
    assert "It would mean:" in answer.text
    assert "6.00\u00a0bar\u00a0gauge" in answer.text
    assert "Agreed manifold pressure" in answer.text
    too_high = client.get(address(accord, "accord-meaning", PRESSURE), {**values, f"{PRESSURE}-value": "12"})
    assert "outside a limit" in too_high.text
    wrong = client.get(address(accord, "accord-meaning", PRESSURE), {**values, f"{PRESSURE}-value": "x"})
    assert "is not a number" in wrong.text
    assert not accord.proposals.exists()


def test_an_unknown_value_or_item_does_not_exist(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    assert client.post(address(accord, "accord-value", "colour")).status_code == 404
    assert client.get(address(accord, "accord-meaning", "colour")).status_code == 404
    assert client.get(address(accord, "accord-item", "no.such-item")).status_code == 404
    assert client.get(address(accord, "accord-item", "agree.cow-plan")).status_code == 404
    assert client.post(address(accord, "accord-accept", 12345)).status_code == 404


def test_a_proposal_of_another_accord_is_not_accepted_here(
    accord: Accord, ship_officer: Person, terminal_officer: Person, stranger: Person, client_of: ClientOf
) -> None:
    other = open_accord(stranger, terminal_officer, berth_name="Inner berth")
    proposal = actions.propose_value(by=stranger, now=NOW, accord=other, key=PRESSURE, value=Decimal(8), seen=None)
    answer = client_of(terminal_officer).post(address(accord, "accord-accept", proposal.pk))
    assert answer.status_code == 404


def test_an_item_is_answered_by_its_form_and_leads_to_the_next(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    page = client.get(address(accord, "accord-item", "sea.valves-sealed"))
    assert "Seal numbers" in page.text
    answer = client.post(
        address(accord, "accord-item", "sea.valves-sealed"),
        {"answer": "yes", "value_seals": "A 17 to A 21", "remark": "", "seen": ""},
    )
    assert answer.status_code == 302
    assert answer["Location"].startswith(address(accord, "accord-checklist") + "#")
    given = latest_answers(accord)["sea.valves-sealed", Side.SHIP]
    assert (given.answer, given.values, given.by) == ("yes", {"seals": "A 17 to A 21"}, ship_officer)
    assert "A 17 to A 21" in client.get(address(accord, "accord-checklist")).text


def test_a_refused_answer_keeps_what_was_typed(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    where = address(accord, "accord-item", "sea.valves-sealed")
    answer = client_of(ship_officer).post(where, {"answer": "no", "value_seals": "A 17", "remark": "", "seen": ""})
    assert answer.status_code == 200
    assert "“No” needs a remark" in answer.text
    assert 'value="A 17"' in answer.text
    assert not accord.answers.exists()


def test_a_number_of_an_item_may_be_typed_in_another_unit(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    where = address(accord, "accord-item", "esd.proved")
    values = {"answer": "yes", "value_closing_s": "0.5", "value_closing_s_unit": "min", "seen": ""}
    assert client_of(ship_officer).post(where, values).status_code == 302
    assert latest_answers(accord)["esd.proved", Side.SHIP].values == {"closing_s": "30"}


def test_the_list_of_what_waits_grows_shorter(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    client = client_of(ship_officer)
    where = address(accord, "accord-checklist")
    assert 'id="signs-shown"' in client.get(where, {"show": "open"}).text
    client.post(address(accord, "accord-item", "signs.shown"), {"answer": "yes", "seen": ""})
    assert 'id="signs-shown"' not in client.get(where, {"show": "open"}).text
    assert 'id="signs-shown"' in client.get(where).text


def test_an_item_of_the_other_side_has_no_form(accord: Accord, ship_officer: Person, client_of: ClientOf) -> None:
    answer = client_of(ship_officer).get(address(accord, "accord-item", "term.manual-current"))
    assert answer.status_code == 403


def test_an_auditor_is_let_in_and_out_from_the_page(
    accord: Accord, auditor: Person, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    organisation = auditor.organisation
    assert organisation is not None
    answer = follow(client, address(accord, "accord-auditor-add"), organisation=str(organisation.pk))
    assert "Northlight Audit may read this accord; each reading is noted in the trail." in told(answer)
    assert client_of(auditor).get(address(accord)).status_code == 200
    follow(client, address(accord, "accord-auditor-end", accord.audit_grants.get().pk))
    assert client_of(auditor).get(address(accord)).status_code == 404


def test_facts_that_moved_on_are_flagged_and_change_nothing(
    accord: Accord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(terminal_officer)
    assert "out of date" not in client.get(address(accord)).text
    facts = ship_facts(ship_line_velocity_limit_m_per_s=5.5)
    vessel = accord.vessel_revision.vessel
    VesselRevision.objects.create(vessel=vessel, number=2, facts=facts, made_by=ship_officer, made_at=NOW)
    page = client.get(address(accord)).text
    assert "out of date" in page
    assert "this accord stands on revision 1, the newest is 2" in page
    assert "7.00\u00a0m/s → 5.50\u00a0m/s" in page
    before = Accord.objects.values("case", "facts_sha256").get(pk=accord.pk)
    assert before == {"case": accord.case, "facts_sha256": accord.facts_sha256}


def test_the_list_is_searched_filtered_and_sorted(
    accord: Accord, terminal_officer: Person, stranger: Person, client_of: ClientOf
) -> None:
    other = open_accord(stranger, terminal_officer, ship_name="Corvane Dawn", berth_name="Inner berth")
    actions.withdraw(by=stranger, now=NOW, accord=other, reason="She goes elsewhere.")
    client = client_of(terminal_officer)
    where = reverse("accord-list")

    def found(**asked: str) -> list[str]:
        names = re.findall(r'<th scope="row"><a href="[^"]*">([^<]*)</a>', client.get(where, asked).text)
        return [str(name) for name in names]

    assert sorted(found()) == ["Astrid Halvard", "Corvane Dawn"]
    assert found(search="corvane") == ["Corvane Dawn"]
    assert found(search=accord.reference.lower()) == ["Astrid Halvard"]
    assert found(state="withdrawn") == ["Corvane Dawn"]
    assert found(state="withdrawn", search="astrid") == []
    assert found(sort="-ship") == ["Corvane Dawn", "Astrid Halvard"]
    assert "state=withdrawn" in client.get(where, {"state": "withdrawn"}).text
    assert found(state="no such state", sort="password") == found()


def test_an_empty_list_says_what_to_do(auditor: Person, ship_officer: Person, client_of: ClientOf) -> None:
    assert "There is no accord yet" in client_of(ship_officer).get(reverse("accord-list")).text
    assert "lets auditors in" in client_of(auditor).get(reverse("accord-list")).text


def test_what_waits_stands_on_the_home_page(
    ship_officer: Person, terminal_officer: Person, ship_reader: Person, client_of: ClientOf
) -> None:
    accord = open_accord(ship_officer, terminal_officer)
    actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
    assert "a value waits for your side&#x27;s answer" in client_of(terminal_officer).get("/").text
    assert "a value waits" not in client_of(ship_officer).get("/").text
    actions.accept_value(by=terminal_officer, now=NOW, proposal=accord.proposals.get())
    agree(accord, ship_officer, terminal_officer, {HIGHEST: Decimal(2800), START: Decimal(600), CLOSING: Decimal(45)})
    answer_all(accord, ship_officer, terminal_officer)
    actions.settle(by=ship_officer, now=NOW, accord=accord)
    assert "waits for your side&#x27;s signature" in client_of(ship_officer).get("/").text
    assert "waits for your side&#x27;s signature" not in client_of(ship_reader).get("/").text
    assert standing(accord)[PRESSURE].agreed is not None


def test_no_page_of_an_accord_is_longer_than_a_slow_link_bears(
    accord: Accord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    agree(accord, ship_officer, Person.objects.get(username="terminal-officer"))
    for page in ("accord", "accord-checklist"):
        answer = client.get(address(accord, page), headers={"accept-encoding": "gzip"})
        assert answer["Content-Encoding"] == "gzip"
        assert len(answer.content) < 40_000
