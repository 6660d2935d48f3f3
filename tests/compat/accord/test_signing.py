"""Signing: one's own secret again, wrong ones counted and locked, exactly the bytes that were read."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from compat.accord import actions
from compat.accord.keys import authority
from compat.accord.models import Accord, Plan, SecretAttempt, Signature
from compat.accord.moving import MeanwhileError
from compat.accord.own_secret import LOCK_TIME, SigningLockedError, WrongSecretError, locked_until
from compat.accord.plan_file import read_plan
from compat.accord.states import State
from compat.accord.verdict import Verdict
from compat.accord.verifying import verify_data
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from shared.trail import facts_of, verify_trail
from tests.builders import NOW, SECRET
from tests.compat.accord.building import MORE_VALUES, VALUES, agree, amend_to_force, bring_to, sign, write_answers


def verified(plan: Plan) -> Verdict:
    return verify_data(bytes(plan.payload), bytes(plan.signatures or b""), authority().certificate)


@pytest.fixture
def settled(ship_officer: Person, terminal_officer: Person) -> Accord:
    return bring_to(State.SETTLED, ship_officer, terminal_officer)


def test_a_wrong_secret_signs_nothing_and_is_counted(settled: Accord, ship_officer: Person) -> None:
    with pytest.raises(WrongSecretError, match=r"nothing was signed\. 4 tries left"):
        sign(settled, ship_officer, secret="spring-tide")
    with pytest.raises(WrongSecretError, match="3 tries left"):
        sign(settled, ship_officer, secret=SECRET.upper())
    assert not Signature.objects.exists()
    assert SecretAttempt.objects.filter(person=ship_officer).count() == 2
    rows = TrailRow.objects.filter(act="wrong secret at signing").order_by("position")
    assert [facts_of(row) for row in rows] == [{"wrong_in_15_minutes": 1}, {"wrong_in_15_minutes": 2}]
    assert not any(word in row.facts for row in TrailRow.objects.all() for word in ("spring-tide", SECRET.upper()))


def test_five_wrong_secrets_lock_signing_for_fifteen_minutes(settled: Accord, ship_officer: Person) -> None:
    for minute in range(4):
        with pytest.raises(WrongSecretError):
            sign(settled, ship_officer, now=NOW + timedelta(minutes=minute), secret="wrong")
    fifth = NOW + timedelta(minutes=4)
    with pytest.raises(WrongSecretError, match="Signing is locked for 15 minutes"):
        sign(settled, ship_officer, now=fifth, secret="wrong")
    with pytest.raises(SigningLockedError, match="you can sign again after 06:49 UTC"):
        sign(settled, ship_officer, now=fifth + timedelta(minutes=14, seconds=59))
    assert not Signature.objects.exists()
    sign(settled, ship_officer, now=fifth + LOCK_TIME)
    assert Signature.objects.count() == 1


def test_attempts_while_locked_do_not_lengthen_the_lock(settled: Accord, ship_officer: Person) -> None:
    for _ in range(5):
        with pytest.raises(WrongSecretError):
            sign(settled, ship_officer, secret="wrong")
    for minute in (5, 10):
        with pytest.raises(SigningLockedError):
            sign(settled, ship_officer, now=NOW + timedelta(minutes=minute), secret="wrong")
    assert locked_until(ship_officer, NOW + timedelta(minutes=14)) == NOW + LOCK_TIME
    assert locked_until(ship_officer, NOW + LOCK_TIME) is None


def test_five_wrong_secrets_over_a_longer_time_do_not_lock(settled: Accord, ship_officer: Person) -> None:
    for number in range(6):
        with pytest.raises(WrongSecretError):
            sign(settled, ship_officer, now=NOW + timedelta(minutes=4 * number), secret="wrong")
    sign(settled, ship_officer, now=NOW + timedelta(minutes=24))


def test_the_lock_is_one_persons_own(settled: Accord, ship_officer: Person, ship_admin: Person) -> None:
    for _ in range(5):
        with pytest.raises(WrongSecretError):
            sign(settled, ship_officer, secret="wrong")
    sign(settled, ship_admin)
    assert Signature.objects.get().person == ship_admin


def test_a_right_secret_leaves_no_attempt_behind(settled: Accord, ship_officer: Person) -> None:
    sign(settled, ship_officer)
    assert not SecretAttempt.objects.exists()


def test_another_persons_secret_does_not_sign(settled: Accord, ship_officer: Person, ship_admin: Person) -> None:
    ship_admin.set_password("a-secret-of-her-own")
    ship_admin.save()
    with pytest.raises(WrongSecretError):
        sign(settled, ship_officer, secret="a-secret-of-her-own")


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader", "auditor", "stranger", "other_terminal_officer"])
def test_who_may_not_sign_is_not_even_asked(who: str, settled: Accord, request: pytest.FixtureRequest) -> None:
    with pytest.raises(NotAllowedError):
        sign(settled, request.getfixturevalue(who))
    assert not SecretAttempt.objects.exists()
    assert not Signature.objects.exists()


@pytest.mark.parametrize(("title", "sentence"), [("  ", "Title is missing"), ("x" * 121, "Title has 121 characters")])
def test_a_title_is_needed(title: str, sentence: str, settled: Accord, ship_officer: Person) -> None:
    with pytest.raises(InputError, match=sentence):
        actions.sign(
            by=ship_officer,
            now=NOW,
            accord=settled,
            secret=SECRET,
            title=title,
            seen_sha256=settled.payload_sha256,
        )


def test_other_bytes_than_those_read_are_not_signed(
    settled: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    read = settled.payload_sha256
    actions.take_back(by=terminal_officer, now=NOW, accord=settled, reason="Less pressure.")
    later = NOW + timedelta(minutes=1)
    actions.settle(by=terminal_officer, now=later, accord=settled)
    settled.refresh_from_db()
    with pytest.raises(MeanwhileError, match="these are other figures than those you had before you"):
        actions.sign(
            by=ship_officer,
            now=later,
            accord=settled,
            secret=SECRET,
            title="Chief Officer",
            seen_sha256=read,
            consents=True,
        )
    assert not Signature.objects.exists()


def test_a_signature_says_who_for_whom_and_over_what(settled: Accord, ship_officer: Person) -> None:
    signed = sign(settled, ship_officer)
    assert signed.plan is None
    verdict = verify_data(bytes(settled.payload or b""), bytes(signed.signature.cms), authority().certificate)
    (said,) = verdict.signatures
    assert (said.side, said.person, said.title, said.organisation, said.problem) == (
        "ship",
        "Ingrid Solheim",
        "Chief Officer",
        "Halvard Tankers",
        "",
    )


def test_the_second_signature_makes_the_plan_that_verifies_anywhere(
    settled: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    sign(settled, terminal_officer)
    later = NOW + timedelta(hours=1)
    signed = sign(settled, ship_officer, now=later)
    plan = Plan.objects.get(accord=settled)
    assert signed.plan == plan
    assert (plan.signed_first_at, plan.signed_last_at) == (NOW, later)
    verdict = verified(plan)
    assert verdict.holds, verdict.sentences()
    assert {(one.side, one.person) for one in verdict.signatures} == {
        ("ship", "Ingrid Solheim"),
        ("terminal", "Tomas Reyes"),
    }


def test_the_plan_carries_what_was_agreed_and_answered(
    settled: Accord, ship_officer: Person, terminal_officer: Person
) -> None:
    sign(settled, terminal_officer)
    sign(settled, ship_officer)
    payload = read_plan(bytes(Plan.objects.get(accord=settled).payload)).payload
    found = {value["key"]: value["value"] for value in payload["values"]}
    assert found.items() >= {key: str(value) for key, value in VALUES.items()}.items()
    assert found.items() <= {key: str(value) for key, value in {**VALUES, **MORE_VALUES}.items()}.items()
    assert {value["kind"] for value in payload["values"]} == {"number", "duration", "text", "choice"}
    assert {value["proposed"]["person"] for value in payload["values"]} == {"Ingrid Solheim"}
    assert {value["accepted"]["person"] for value in payload["values"]} == {"Tomas Reyes"}
    before = [item for item in payload["checklist"]["items"] if item["before_signing"]]
    assert all({mark["side"] for mark in item["marks"]} == set(item["answered_by"]) for item in before)
    assert payload["case"]["agreed"]["manifold_pressure_bar_gauge"] == "8"
    assert payload["accord"]["reference"] == settled.reference


def test_an_amended_plan_names_the_earlier_one(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.IN_FORCE, ship_officer, terminal_officer)
    amendment = amend_to_force(accord, ship_officer, terminal_officer)
    payload = json.loads(bytes(Plan.objects.get(accord=amendment).payload))
    assert payload["accord"]["plan_number"] == 2
    assert payload["accord"]["amendment_reason"] == "The shore tank changed."
    assert payload["accord"]["earlier_plan_sha256"] == Plan.objects.get(accord=accord).sha256
    marks = [mark for item in payload["checklist"]["items"] for mark in item["marks"]]
    assert {mark["carried_from_plan"] for mark in marks} == {1, None}


def test_a_withheld_shore_line_is_not_in_the_plan(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.ON_TABLE, ship_officer, terminal_officer)
    berth = accord.berth_revision.berth
    berth.line_data_shared = False
    berth.save()
    whole = _bring_to_force(accord, ship_officer, terminal_officer)
    for secret in (b"Jetty line", b"Line to the tank farm", b'"489"', b'"590"'):
        assert secret not in whole


def _bring_to_force(accord: Accord, ship: Person, terminal: Person) -> bytes:
    accord = Accord.objects.get(pk=accord.pk)
    agree(accord, ship, terminal)
    write_answers(accord, ship, terminal)
    actions.settle(by=ship, now=NOW, accord=accord)
    sign(accord, ship)
    sign(accord, terminal)
    plan = Plan.objects.get(accord=accord)
    assert verified(plan).holds
    return bytes(plan.payload)


def test_the_trail_tells_it_all_and_holds(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SUPERSEDED, ship_officer, terminal_officer)
    acts = TrailRow.objects.filter(subject=accord.subject).order_by("position").values_list("act", flat=True)
    few = [act for act in acts if act not in {"checklist answered", "value proposed", "value accepted"}]
    assert few == [
        "accord opened",
        "accord settled",
        "plan signed",
        "plan signed",
        "plan in force",
        "amendment opened",
        "plan superseded",
    ]
    assert verify_trail() is None
