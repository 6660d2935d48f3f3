"""The rules that the database itself holds: each is broken here behind the acts' back, and refused."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, models, transaction

from compat.accord.models import (
    Accord,
    AuditGrant,
    ChecklistAnswer,
    PersonKey,
    Plan,
    ProposalStatus,
    SecretAttempt,
    Signature,
    ValueProposal,
)
from compat.accord.states import State
from shared.models import Person
from tests.builders import NOW
from tests.compat.accord.building import PRESSURE, bring_to, open_accord


@contextmanager
def refused(constraint: str) -> Iterator[None]:
    """Expect this very constraint to refuse what happens inside."""
    with pytest.raises(IntegrityError, match=_told(constraint)), transaction.atomic():
        yield


def _told(constraint: str) -> str:
    """SQLite names the columns of a broken uniqueness, PostgreSQL its constraint."""
    return f"{constraint}|UNIQUE constraint failed"


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person) -> Accord:
    return open_accord(ship_officer, terminal_officer)


@pytest.mark.parametrize(
    ("constraint", "changes"),
    [
        ("accord_state_known_with_its_payload", {"state": "forgotten"}),
        ("accord_opened_side_known", {"opened_side": "harbour"}),
        ("accord_has_two_parties", {"terminal_party": models.F("ship_party")}),
        ("accord_payload_with_its_hash", {"state": str(State.WITHDRAWN), "payload": b"{}"}),
        ("accord_payload_with_its_hash", {"state": str(State.WITHDRAWN), "payload_sha256": "0" * 64}),
        ("accord_state_known_with_its_payload", {"state": str(State.SETTLED)}),
        ("accord_state_known_with_its_payload", {"payload": b"{}", "payload_sha256": "0" * 64}),
        ("accord_amendment_has_number_and_reason", {"plan_number": 2}),
    ],
)
def test_an_accord(accord: Accord, constraint: str, changes: dict[str, Any]) -> None:
    with refused(constraint):
        Accord.objects.filter(pk=accord.pk).update(**changes)


def test_one_live_amendment(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)

    def amend(state: State) -> None:
        row = Accord.objects.get(pk=accord.pk)
        row.pk, row.state, row.payload, row.payload_sha256 = None, str(state), None, ""
        row.amends, row.plan_number, row.amendment_reason = accord, 2, "Another tank."
        row.public_id, row.reference = uuid.uuid4(), str(Accord.objects.count())
        row.save(force_insert=True)

    amend(State.WITHDRAWN)
    amend(State.ON_TABLE)
    with refused("one_live_amendment_per_accord"):
        amend(State.ON_TABLE)


def _proposal(accord: Accord, by: Person, **changes: Any) -> ValueProposal:
    given: dict[str, Any] = {"key": PRESSURE, "value": Decimal(8), "side": "ship", "by": by, "at": NOW}
    return ValueProposal.objects.create(accord=accord, **{**given, **changes})


def test_one_open_proposal_for_each_value(accord: Accord, ship_officer: Person, terminal_officer: Person) -> None:
    _proposal(accord, ship_officer)
    with refused("one_open_proposal_per_value"):
        _proposal(accord, terminal_officer, side="terminal", value=Decimal(9))


@pytest.mark.parametrize(
    ("constraint", "changes"),
    [
        ("proposal_is_a_number_or_words", {"value": None}),
        ("proposal_is_a_number_or_words", {"words": "eight"}),
        ("proposal_status_known", {"status": "forgotten", "decided_side": "terminal"}),
        ("proposal_side_known", {"side": "harbour"}),
        ("proposal_decided_by_someone_at_some_time", {"status": "accepted"}),
        ("proposal_decided_by_someone_at_some_time", {"decided_at": NOW}),
        ("proposal_decided_by_someone_at_some_time", {"decided_side": "terminal"}),
        ("proposal_decided_by_the_other_side", {"status": "accepted", "decided_side": "ship"}),
        ("proposal_decided_by_the_other_side", {"status": "answered", "decided_side": "ship"}),
    ],
)
def test_a_proposal(accord: Accord, ship_officer: Person, constraint: str, changes: dict[str, Any]) -> None:
    if {"status", "decided_side"} <= changes.keys():
        changes = changes | {"decided_by": ship_officer, "decided_at": NOW}
    with refused(constraint):
        _proposal(accord, ship_officer, **changes)


def test_a_side_may_take_its_own_proposal_back(accord: Accord, ship_officer: Person) -> None:
    _proposal(
        accord,
        ship_officer,
        status=ProposalStatus.TAKEN_BACK,
        decided_side="ship",
        decided_by=ship_officer,
        decided_at=NOW,
    )


@pytest.mark.parametrize(
    ("constraint", "changes"),
    [
        ("checklist_answer_known", {"answer": "perhaps", "remark": "?"}),
        ("checklist_side_known", {"side": "harbour"}),
        ("checklist_reason_unless_yes", {"answer": "no"}),
        ("checklist_reason_unless_yes", {"answer": "does not apply"}),
    ],
)
def test_an_answer(accord: Accord, ship_officer: Person, constraint: str, changes: dict[str, Any]) -> None:
    given = {"item_key": "signs.shown", "side": "ship", "answer": "yes", "by": ship_officer, "at": NOW}
    with refused(constraint):
        ChecklistAnswer.objects.create(accord=accord, **{**given, **changes})


def _signature(accord: Accord, by: Person, **changes: Any) -> Signature:
    given: dict[str, Any] = {
        "payload_sha256": "0" * 64,
        "side": "ship",
        "person": by,
        "person_name": by.full_name,
        "person_title": "Chief Officer",
        "organisation_name": "Halvard Tankers",
        "signed_at": NOW,
    }
    return Signature.objects.create(accord=accord, **{**given, **changes})


@pytest.mark.parametrize(
    ("constraint", "changes"),
    [
        ("signature_side_known", {"side": "harbour"}),
        ("signature_has_title", {"person_title": ""}),
        ("signature_voided_by_someone_with_reason", {"void_at": NOW}),
        ("signature_voided_by_someone_with_reason", {"void_reason": "Another tank."}),
    ],
)
def test_a_signature(accord: Accord, ship_officer: Person, constraint: str, changes: dict[str, Any]) -> None:
    with refused(constraint):
        _signature(accord, ship_officer, **changes)


def test_one_valid_signature_for_each_side(accord: Accord, ship_officer: Person, terminal_officer: Person) -> None:
    _signature(accord, ship_officer, void_at=NOW, void_by=ship_officer, void_reason="Another tank.")
    _signature(accord, ship_officer)
    _signature(accord, terminal_officer, side="terminal")
    with refused("one_valid_signature_per_side"):
        _signature(accord, ship_officer)


def _plan(accord: Accord, **changes: Any) -> Plan:
    given: dict[str, Any] = {"number": 1, "payload": b"{}", "sha256": "0" * 64, "signatures": b"0", "pdf": b"%PDF-"}
    signed = {"signed_first_at": NOW, "signed_last_at": NOW}
    return Plan.objects.create(accord=accord, **{**given, **signed, **changes})


@pytest.mark.parametrize(
    ("constraint", "changes"),
    [
        ("plan_has_its_signatures", {"pdf": None}),
        ("plan_has_its_signatures", {"signatures": None}),
        ("plan_signed_in_order", {"signed_last_at": NOW - timedelta(seconds=1)}),
    ],
)
def test_a_plan(accord: Accord, constraint: str, changes: dict[str, Any]) -> None:
    with refused(constraint):
        _plan(accord, **changes)


def _key(person: Person, **changes: Any) -> PersonKey:
    given: dict[str, Any] = {"sealed": b"0", "certificate_sha256": "0" * 64, "made_at": NOW}
    given |= {"valid_until": NOW + timedelta(days=1), "certificate_pem": "x", "name": "x", "organisation": "x"}
    return PersonKey.objects.create(person=person, **{**given, **changes})


def test_one_open_signing_key_for_each_person(ship_officer: Person) -> None:
    _key(ship_officer, sealed=None)
    _key(ship_officer, certificate_sha256="1" * 64)
    with refused("one_open_signing_key_per_person"):
        _key(ship_officer, certificate_sha256="2" * 64)


def test_a_signing_key_has_a_time(ship_officer: Person) -> None:
    with refused("signing_key_valid_after_it_is_made"):
        _key(ship_officer, valid_until=NOW)


def test_a_plan_holds_beyond_its_start(accord: Accord) -> None:
    accord.holds_until = accord.planned_start
    with refused("accord_holds_beyond_its_start"):
        accord.save()


def test_one_plan_for_each_accord(accord: Accord) -> None:
    _plan(accord)
    with pytest.raises(IntegrityError), transaction.atomic():
        _plan(accord, sha256="1" * 64)


@pytest.mark.parametrize(
    ("constraint", "changes"),
    [
        ("audit_grant_side_known", {"granted_side": "harbour"}),
        ("audit_grant_ended_by_someone", {"ended_at": NOW}),
    ],
)
def test_a_grant(
    accord: Accord, auditor: Person, ship_officer: Person, constraint: str, changes: dict[str, Any]
) -> None:
    given: dict[str, Any] = {"organisation": auditor.organisation, "granted_side": "ship"}
    with refused(constraint):
        AuditGrant.objects.create(accord=accord, granted_by=ship_officer, granted_at=NOW, **{**given, **changes})


def test_one_live_grant_for_each_side(accord: Accord, auditor: Person, ship_officer: Person) -> None:
    given: dict[str, Any] = {"organisation": auditor.organisation, "granted_by": ship_officer, "granted_at": NOW}
    AuditGrant.objects.create(accord=accord, granted_side="ship", ended_at=NOW, ended_by=ship_officer, **given)
    AuditGrant.objects.create(accord=accord, granted_side="ship", **given)
    AuditGrant.objects.create(accord=accord, granted_side="terminal", **given)
    with refused("one_live_audit_grant_per_side"):
        AuditGrant.objects.create(accord=accord, granted_side="ship", **given)


def test_every_rule_stands_in_this_file() -> None:
    text = Path(__file__).read_text(encoding="utf-8")
    rooms = [Accord, ValueProposal, ChecklistAnswer, Signature, SecretAttempt, PersonKey, Plan, AuditGrant]
    named = [constraint.name for model in rooms for constraint in model._meta.constraints]
    assert named
    assert [name for name in named if f'"{name}"' not in text] == []
