"""Who gets which page: strangers 404, readers 403 for acts, auditors read only what was granted, and it is noted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from compat.accord import actions, auditing
from compat.accord.models import Accord, AuditGrant
from compat.accord.moving import MeanwhileError
from compat.accord.states import State
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of, rows_for
from tests.addresses import every_address
from tests.builders import NOW, make_person
from tests.compat.accord.building import PRESSURE, bring_to, open_accord

ClientOf = Callable[[Person | None], Client]

READS = ["accord", "accord-checklist", "accord-coverage", "accord-diagram", "accord-stay"]
LINE_READS = ["accord-profile", "accord-case"]
PLAN_READS = ["accord-plan-data", "accord-plan-pdf"]
ACT_FORMS = ["accord-take-back", "accord-withdraw", "accord-amend", "accord-sign", "accord-arrange"]
POSTS = [
    "accord-settle",
    "accord-auditor-add",
    "accord-stay-plan",
    "accord-stay-file",
    "accord-stay-drop",
]
MEMBERS = ["ship_officer", "ship_admin", "ship_reader", "terminal_officer", "terminal_admin", "terminal_reader"]
STRANGERS = ["stranger", "other_terminal_officer", "auditor", "installation_admin"]
READERS = ["ship_reader", "terminal_reader"]


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return bring_to(State.IN_FORCE, ship_officer, terminal_officer)


def get(client: Client, page: str, accord: Accord, *more: object) -> int:
    return client.get(reverse(page, args=[accord.public_id, *more])).status_code


def post(client: Client, page: str, accord: Accord, *more: object) -> int:
    return client.post(reverse(page, args=[accord.public_id, *more])).status_code


def everything(client: Client, accord: Accord) -> dict[str, int]:
    """Ask for every page and post to every act, without any value."""
    proposal = accord.proposals.first()
    assert proposal is not None
    grant = accord.audit_grants.first()
    found = {page: get(client, page, accord) for page in [*READS, *LINE_READS, *PLAN_READS, *ACT_FORMS]}
    found |= {f"post {page}": post(client, page, accord) for page in [*POSTS, *ACT_FORMS]}
    found["accord-meaning"] = get(client, "accord-meaning", accord, PRESSURE)
    found["accord-item"] = get(client, "accord-item", accord, "signs.shown")
    found["post accord-item"] = post(client, "accord-item", accord, "signs.shown")
    found["accord-item-row"] = get(client, "accord-item-row", accord, "signs.shown")
    found["post accord-propose"] = post(client, "accord-value", accord, PRESSURE)
    found["post accord-accept"] = post(client, "accord-accept", accord, proposal.pk)
    found["post accord-take-off"] = post(client, "accord-take-off", accord, proposal.pk)
    found["post accord-auditor-end"] = post(client, "accord-auditor-end", accord, grant.pk if grant else 1)
    found["accord-open-like"] = client.get(reverse("accord-open-like", args=[accord.public_id])).status_code
    return found


@pytest.mark.parametrize("who", STRANGERS)
def test_for_a_stranger_the_accord_does_not_exist(
    who: str, accord: Accord, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    found = everything(client_of(request.getfixturevalue(who)), accord)
    if who in {"auditor", "installation_admin"}:
        assert found.pop("accord-open-like") == 403  # they open no accord at all
    assert set(found.values()) == {404}, found
    assert "Astrid Halvard" not in client_of(request.getfixturevalue(who)).get(reverse("accord-list")).text


def test_who_is_not_signed_in_is_led_to_sign_in(accord: Accord, client_of: ClientOf) -> None:
    answer = client_of(None).get(reverse("accord", args=[accord.public_id]))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize("who", MEMBERS)
def test_members_read_every_page(who: str, accord: Accord, client_of: ClientOf, request: pytest.FixtureRequest) -> None:
    client = client_of(request.getfixturevalue(who))
    found = {page: get(client, page, accord) for page in [*READS, *LINE_READS, *PLAN_READS]}
    assert set(found.values()) == {200}, found
    assert accord.reference in client.get(reverse("accord-list")).text


@pytest.mark.parametrize("who", READERS)
def test_a_reader_can_not_act(who: str, accord: Accord, client_of: ClientOf, request: pytest.FixtureRequest) -> None:
    person = request.getfixturevalue(who)
    assert accord.audit_grants.count() == 0
    before = Accord.objects.values().get(pk=accord.pk), TrailRow.objects.count()
    found = everything(client_of(person), accord)
    acts = {page: status for page, status in found.items() if page.startswith("post ") or page in ACT_FORMS}
    acts.pop("post accord-auditor-end")  # there is no grant to end
    assert set(acts.values()) == {403}, acts
    assert found["accord-item"] == 403
    assert (Accord.objects.values().get(pk=accord.pk), TrailRow.objects.count()) == before
    page = client_of(person).get(reverse("accord", args=[accord.public_id])).text
    assert "Withdraw" not in page
    assert "Amend the plan" not in page


@pytest.mark.parametrize("who", READERS)
def test_a_reader_opens_no_accord(who: str, client_of: ClientOf, request: pytest.FixtureRequest) -> None:
    client = client_of(request.getfixturevalue(who))
    assert client.get(reverse("accord-new")).status_code == 403
    assert "Open an accord" not in client.get(reverse("accord-list")).text


def grant(accord: Accord, auditor: Person, by: Person) -> AuditGrant:
    assert auditor.organisation is not None
    return actions.grant_audit(by=by, now=NOW, accord=accord, organisation=auditor.organisation)


def test_an_auditor_who_was_let_in_reads_and_each_reading_is_in_the_trail(
    accord: Accord, auditor: Person, ship_officer: Person, client_of: ClientOf
) -> None:
    grant(accord, auditor, ship_officer)
    client = client_of(auditor)
    for page in ["accord", "accord-checklist", "accord-plan-data"]:
        assert get(client, page, accord) == 200
    rows = TrailRow.objects.filter(subject=accord.subject, act="accord read by auditor").order_by("position")
    assert [facts_of(row)["read"] for row in rows] == ["accord", "checklist", "plan data file"]
    assert {row.person for row in rows} == {"Samuel Adeyemi (auditor)"}


def test_an_auditor_only_reads(accord: Accord, auditor: Person, ship_officer: Person, client_of: ClientOf) -> None:
    grant(accord, auditor, ship_officer)
    before = Accord.objects.values().get(pk=accord.pk)
    found = everything(client_of(auditor), accord)
    acts = {page: status for page, status in found.items() if page.startswith("post ") or page in ACT_FORMS}
    assert set(acts.values()) == {403}, acts
    assert Accord.objects.values().get(pk=accord.pk) == before
    assert AuditGrant.objects.get().ended_at is None


def test_members_reading_their_own_accord_leave_no_row(
    accord: Accord, ship_reader: Person, client_of: ClientOf
) -> None:
    before = TrailRow.objects.count()
    get(client_of(ship_reader), "accord", accord)
    assert TrailRow.objects.count() == before


def test_an_ended_grant_shuts_the_page(
    accord: Accord, auditor: Person, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    given = grant(accord, auditor, ship_officer)
    with pytest.raises(NotAllowedError, match="so the ship ends it"):
        actions.end_audit_grant(by=terminal_officer, now=NOW, grant=given)
    actions.end_audit_grant(by=ship_officer, now=NOW + timedelta(minutes=1), grant=given)
    assert get(client_of(auditor), "accord", accord) == 404
    with pytest.raises(MeanwhileError):
        actions.end_audit_grant(by=ship_officer, now=NOW, grant=given)


def test_a_grant_of_the_other_side_keeps_the_page_open(
    accord: Accord, auditor: Person, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    given = grant(accord, auditor, ship_officer)
    grant(accord, auditor, terminal_officer)
    actions.end_audit_grant(by=ship_officer, now=NOW, grant=given)
    assert get(client_of(auditor), "accord", accord) == 200


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger"])
def test_who_lets_no_auditor_in(who: str, accord: Accord, auditor: Person, request: pytest.FixtureRequest) -> None:
    with pytest.raises(NotAllowedError):
        grant(accord, auditor, request.getfixturevalue(who))


def test_only_audit_organisations_are_let_in_and_once(
    accord: Accord, auditor: Person, stranger: Person, ship_officer: Person
) -> None:
    with pytest.raises(InputError, match="does not audit"):
        grant(accord, stranger, ship_officer)
    grant(accord, auditor, ship_officer)
    with pytest.raises(MeanwhileError, match="may read this accord for the ship already"):
        grant(accord, auditor, ship_officer)


def test_the_trail_page_shows_rows_to_those_who_may_read_the_accord(
    accord: Accord, auditor: Person, stranger: Person, terminal_reader: Person, ship_officer: Person
) -> None:
    assert not rows_for(stranger).filter(subject=accord.subject).exists()
    assert not rows_for(auditor).filter(subject=accord.subject).exists()
    grant(accord, auditor, ship_officer)
    for person in (auditor, terminal_reader):
        assert rows_for(person).filter(subject=accord.subject, act="plan signed").count() == 2


@pytest.fixture
def withheld(ship_officer: Person, terminal_officer: Person) -> Accord:
    accord = open_accord(ship_officer, terminal_officer, line_data_shared=False)
    actions.propose_value(by=ship_officer, now=NOW, accord=accord, key=PRESSURE, value=Decimal(8), seen=None)
    return accord


@pytest.mark.parametrize(
    ("who", "status"),
    [
        ("ship_officer", 403),
        ("ship_admin", 403),
        ("ship_reader", 403),
        ("terminal_officer", 200),
        ("terminal_reader", 200),
    ],
)
def test_a_terminal_may_keep_its_line_data_and_share_the_answer(
    who: str, status: int, withheld: Accord, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    client = client_of(request.getfixturevalue(who))
    assert {get(client, page, withheld) for page in LINE_READS} == {status}
    page = client.get(reverse("accord", args=[withheld.public_id])).text
    assert "Gauge readings" in page
    assert ("Jetty line" in page) == (status == 200)
    assert ("keeps the data of its shore line to itself" in page) == (status == 403)


def test_an_auditor_sees_the_line_only_if_the_terminal_let_them_in(
    withheld: Accord, auditor: Person, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    grant(withheld, auditor, ship_officer)
    assert {get(client_of(auditor), page, withheld) for page in LINE_READS} == {403}
    grant(withheld, auditor, terminal_officer)
    assert {get(client_of(auditor), page, withheld) for page in LINE_READS} == {200}


def test_an_auditors_reading_is_one_row_for_each_document_and_hour(
    accord: Accord, auditor: Person, ship_officer: Person
) -> None:
    grant(accord, auditor, ship_officer)

    def read(what: str, minutes: int, by: Person = auditor) -> None:
        actions.note_reading(by=by, now=NOW + timedelta(minutes=minutes), accord=accord, what=what)

    for minutes in (0, 1, 30, 59):
        read("accord", minutes)
        read("plan PDF", minutes)
    colleague = make_person(auditor.organisation, username="colleague")
    read("accord", 5, colleague)
    read("accord", 60)
    rows = TrailRow.objects.filter(act="accord read by auditor").order_by("position")
    assert [(facts_of(row)["read"], row.at - NOW) for row in rows] == [
        ("accord", timedelta(0)),
        ("plan PDF", timedelta(0)),
        ("accord", timedelta(minutes=5)),
        ("accord", timedelta(minutes=60)),
    ]


# Pictures and parts that a page asks for by itself, which has noted the reading; and an empty form.
PARTS = {"accord-diagram", "accord-profile", "accord-meaning", "accord-item-row", "record-picture", "record-template"}


def test_no_page_of_an_accord_is_read_by_an_auditor_unnoted(
    accord: Accord, auditor: Person, terminal_officer: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(auditing, "ONE_READING", timedelta(0))
    grant(accord, auditor, terminal_officer)
    client, readings = client_of(auditor), TrailRow.objects.filter(act="accord read by auditor")
    unnoted, read = [], []
    for address in every_address(uuids=[accord.public_id], words=[PRESSURE, "signs.shown"]):
        before = readings.count()
        if accord.public_id not in address.arguments or address.name in PARTS:
            continue
        if client.get(address.path).status_code == 200:
            read.append(address.name)
            if readings.count() == before:
                unnoted.append(address.path)
    assert not unnoted
    assert {"accord", "accord-checklist", "accord-plan-data", "accord-case", "accord-values-history"} <= set(read)
