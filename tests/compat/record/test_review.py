"""Performance, letters of protest, exceptions with how they were closed, filters, samples and the archive."""

from __future__ import annotations

import hashlib
import html
import io
import json
import zipfile
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from compat.accord import actions as accord_actions
from compat.accord.bargaining import agreed_values, standing
from compat.accord.checklist import item_named
from compat.accord.models import AnswerChoice, Plan
from compat.record.checking import give_check
from compat.record.counting import counted
from compat.record.events import Kind
from compat.record.exceptions import exceptions_of
from compat.record.flowing import end_flow, log_event, say_go, stop_flow
from compat.record.models import DriftAnswer, TransferRecord
from compat.record.performance_view import Asked, verdict
from compat.record.readings import DISCHARGED, MANIFOLD
from compat.record.taking import answer_drift, correct_reading
from shared.models import Person
from shared.trail_chain import check_extract
from shared.trail_files import read_rows
from tests.builders import NOW
from tests.compat.accord.building import amend_to_force
from tests.compat.record.keeping import START, case_of, flowing, on_plan, open_kept, read

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def record(ship_officer: Person, terminal_officer: Person) -> TransferRecord:
    """Thirty hours with a stop by the terminal, a drift that was explained, one that was not, a late check and a no."""
    found = flowing(ship_officer, terminal_officer)
    values = on_plan(case_of(found))
    drifted = {**values, MANIFOLD: values[MANIFOLD] + 1}
    read(found, ship_officer, after_h=1)
    one = read(found, ship_officer, after_h=2, values=drifted, confirmed=True)
    answer_drift(by=terminal_officer, now=START, reading=one, what=DriftAnswer.What.EXPLAINED, said="Gauge changed.")
    read(found, ship_officer, after_h=3, values=drifted, confirmed=True)
    at = START + timedelta(hours=4)
    give_check(by=ship_officer, now=at, record=found, item_key="watch.no-leaks", answer=AnswerChoice.YES)
    stop_flow(by=terminal_officer, now=at, record=found, at=at, reason="Tank change.", caused_by="terminal")
    for person in (ship_officer, terminal_officer):
        say_go(by=person, now=at + timedelta(hours=2), record=found)
    read(found, ship_officer, after_h=29)
    end_flow(by=ship_officer, now=START + timedelta(hours=30), record=found, at=START + timedelta(hours=30))
    found.refresh_from_db()
    return found


def page(record: TransferRecord, name: str) -> str:
    return reverse(name, args=[record.accord.public_id])


def test_each_departure_is_listed_with_how_it_was_closed(record: TransferRecord) -> None:
    found = exceptions_of(record, START + timedelta(hours=31))
    by_kind: dict[str, list[str]] = {}
    for one in found:
        by_kind.setdefault(one.kind, []).append(one.closed)
    assert [bool(closed) for closed in by_kind["drift"]] == [True, False]
    assert by_kind["overdue check"] == ["", "", "Answered late."]  # what stood overdue at the end stays open
    late = next(one.said for one in found if one.closed == "Answered late.")
    assert item_named("watch.no-leaks").statement in late
    missed = [one.said for one in found if one.kind == "overdue check" and not one.closed]
    assert sorted(said.split()[3] for said in missed) == ["ship", "terminal"]
    assert all("when flow ended" in said for said in missed)
    assert record.missed_checks > 0
    assert by_kind["stop"] == ["Ended after 2.0 h; both sides said go, or flow had ended."]
    assert "no readings" in by_kind  # 26 hours without one
    assert "late signature" not in by_kind
    assert "late signature" in {one.kind for one in exceptions_of(record, START + timedelta(hours=55))}


def test_corrections_noes_and_amendments_are_departures_too(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer, at=NOW - timedelta(hours=1))
    values = on_plan(case_of(record))
    reading = read(record, ship_officer, values=values, confirmed=True)
    correct_reading(by=ship_officer, now=START, reading=reading, at=reading.at, values=values, reason="Wrong gauge.")
    no, yes = AnswerChoice.NO, AnswerChoice.YES
    for answer in (no, yes):
        give_check(
            by=ship_officer,
            now=NOW,
            record=record,
            item_key="watch.no-leaks",
            answer=answer,
            remark="Drip." * (answer == no),
        )
    amend_to_force(record.accord, ship_officer, terminal_officer)
    kinds = {one.kind: one for one in exceptions_of(record, NOW)}
    assert "Wrong gauge." in kinds["correction"].closed
    assert kinds["item not true"].said == f"{item_named('watch.no-leaks').statement} The ship said no: Drip."
    assert kinds["item not true"].closed.startswith("Answered yes by Ingrid Solheim")
    assert "The shore tank changed." in kinds["amended during transfer"].said


def test_a_transfer_without_departures_says_so(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = open_kept(ship_officer, terminal_officer)
    assert exceptions_of(record, NOW) == []
    assert "Nothing departed" in client_of(ship_officer).get(page(record, "record-audit")).text


def test_performance_counts_the_hours_of_the_record(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    shown = client_of(ship_officer).get(page(record, "record-performance")).text
    assert "28.0 h" in shown  # thirty hours less a stop of two
    assert "Not kept" in shown or "Not decided" in shown
    other = (
        client_of(ship_officer).get(page(record, "record-performance") + "?hours=30&pressure=7&extra=0&part=100").text
    )
    assert "Kept by time" in other
    refused = client_of(ship_officer).get(page(record, "record-performance") + "?hours=x&pressure=7&extra=0&part=100")
    assert "is not a number" in refused.text


def test_while_oil_flows_performance_counts_up_to_the_last_reading(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = flowing(ship_officer, terminal_officer)
    values = {**on_plan(case_of(record)), DISCHARGED: Decimal(4000)}
    read(record, ship_officer, after_h=2, values=values, confirmed=True)
    _, found = counted(record)
    assert found is not None
    assert found.counted.pumping_hours == pytest.approx(2.0)
    assert found.mean_rate_m3_per_h == pytest.approx(2000.0)  # 4,000 m3 in two hours
    shown = client_of(ship_officer).get(page(record, "record-performance")).text
    assert "Flow has not ended; so far it is within the hours allowed." in shown
    assert "Kept by time" not in shown
    _, longer = counted(record, Asked(hours=1.0))
    assert longer is not None
    assert longer.counted.kept != "by time"
    assert verdict(longer).startswith("Flow has not ended. So far ")


def test_the_rate_is_counted_to_the_reading_that_told_the_quantity(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = flowing(ship_officer, terminal_officer)
    values = {**on_plan(case_of(record)), DISCHARGED: Decimal(4000)}
    read(record, ship_officer, after_h=2, values=values, confirmed=True)
    end_flow(by=ship_officer, now=START + timedelta(hours=4), record=record, at=START + timedelta(hours=4))
    _, found = counted(record)
    assert found is not None
    assert found.counted.pumping_hours == pytest.approx(4.0)
    assert found.mean_rate_m3_per_h == pytest.approx(2000.0)


def test_agreed_words_and_numbers_stand_beside_what_happened(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    shown = html.unescape(client_of(ship_officer).get(page(record, "record-audit")).text)
    agreed = agreed_values(standing(record.accord))
    words = [value for value in agreed.values() if isinstance(value, str)]
    assert words
    assert [word for word in words if word not in shown] == []


def test_each_side_gets_a_letter_from_the_facts_and_a_reader_none(
    record: TransferRecord, ship_officer: Person, terminal_officer: Person, ship_reader: Person, client_of: ClientOf
) -> None:
    ship = client_of(ship_officer).get(page(record, "record-protest") + "?as=file").text
    assert "Flow was stopped by the terminal from 14 April 2031 18:30 UTC for 2.0 h: Tank change." in ship
    assert "1 of 2 drifts of gauges from the agreed plan were not explained." in ship
    assert "Sandvik Terminals, for the terminal" in ship
    terminal = client_of(terminal_officer).get(page(record, "record-protest") + "?as=file").text
    assert "Tank change" not in terminal
    assert client_of(ship_reader).get(page(record, "record-protest")).status_code == 403


def test_a_restriction_of_the_terminal_stands_in_the_ships_letter(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = flowing(ship_officer, terminal_officer)
    log_event(
        by=ship_officer, now=START, record=record, kind=Kind.HELD_BACK, at=START, remark="Shore relief valve lifts."
    )
    text = client_of(ship_officer).get(page(record, "record-protest") + "?as=file").text
    assert "the terminal held the ship back: Shore relief valve lifts." in text


def test_a_clean_record_has_nothing_to_protest_against(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = flowing(ship_officer, terminal_officer)
    text = client_of(terminal_officer).get(page(record, "record-protest") + "?as=file").text
    assert "holds nothing that this side would have to protest against" in text


@pytest.mark.parametrize(("only", "found"), [("overdue", True), ("drift", True), ("amended", False), ("late", True)])
def test_records_are_filtered_by_what_departed(
    only: str,
    found: bool,
    record: TransferRecord,
    ship_officer: Person,
    client_of: ClientOf,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: START + timedelta(hours=60))
    shown = client_of(ship_officer).get(reverse("record-list") + f"?only={only}").text
    assert ("Astrid Halvard" in shown) is found


def test_a_record_amended_during_transfer_is_found(
    record: TransferRecord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    TransferRecord.objects.filter(pk=record.pk).update(started_at=NOW - timedelta(hours=1))
    amend_to_force(record.accord, ship_officer, terminal_officer)
    shown = client_of(ship_officer).get(reverse("record-list") + "?only=amended").text
    assert "Astrid Halvard" in shown


def test_a_plan_signed_after_flow_began_is_late(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    Plan.objects.filter(accord=record.accord).update(signed_last_at=START + timedelta(hours=1))
    assert "late signature" in {one.kind for one in exceptions_of(record, START + timedelta(hours=31))}


def test_strangers_see_no_records_and_auditors_only_those_granted(
    record: TransferRecord, stranger: Person, auditor: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    for person in (stranger, auditor):
        assert "Astrid Halvard" not in client_of(person).get(reverse("record-list")).text
        for name in ("record-audit", "record-export", "record-performance", "record-protest"):
            assert client_of(person).get(page(record, name)).status_code == 404
    assert auditor.organisation is not None
    accord_actions.grant_audit(by=terminal_officer, now=NOW, accord=record.accord, organisation=auditor.organisation)
    client = client_of(auditor)
    assert "Astrid Halvard" in client.get(reverse("record-list")).text
    assert client.get(page(record, "record-audit")).status_code == 200
    assert client.get(page(record, "record-protest")).status_code == 403


def test_a_sample_is_random_but_the_same_again_with_its_seed(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    shown = client.get(reverse("record-list") + "?sample=5&seed=abc").text
    assert "the seed abc gives the same one again" in shown
    assert "Astrid Halvard" in shown
    assert client.get(reverse("record-list") + "?sample=x").status_code == 200


def test_the_archive_holds_all_that_is_needed_to_verify(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    answer = client_of(ship_officer).get(page(record, "record-export"))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    for line in files["SHA256SUMS"].decode().splitlines():
        digest, name = line.split("  ")
        assert hashlib.sha256(files[name]).hexdigest() == digest
    kept = json.loads(files["record.json"])
    assert kept["type"] == "berth-accord-record"
    assert len(kept["readings"]) == 4
    assert not any(isinstance(value, float) for value in _numbers(kept))
    plan = Plan.objects.get()
    assert files["plan-1.json"] == bytes(plan.payload)
    assert hashlib.sha256(files["plan-1.json"]).hexdigest() == plan.sha256
    assert check_extract(read_rows(files["trail.jsonl"].decode())).rows > 10


def _numbers(found: object) -> list[object]:
    if isinstance(found, dict):
        return [one for value in found.values() for one in _numbers(value)]
    if isinstance(found, list):
        return [one for value in found for one in _numbers(value)]
    return [found]
