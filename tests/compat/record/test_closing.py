"""Closing a record: what keeps it open, both signatures, opening again, PDF, data file, command, and watches."""

from __future__ import annotations

import io
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from compat.accord.checklist.item import Side
from compat.accord.key_models import PersonKey
from compat.accord.keys import KeyNeededError, authority
from compat.accord.models import AnswerChoice
from compat.accord.moving import MeanwhileError
from compat.accord.own_secret import WrongSecretError
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.plan_file import read_record
from compat.accord.verifying import verify_data
from compat.record.checking import closing_items, give_check
from compat.record.closing import (
    NotCompleteError,
    file_of,
    reopen_record,
    settle_record,
    sign_record,
    what_keeps_from_signing,
)
from compat.record.flowing import end_flow
from compat.record.models import DriftAnswer, RecordSignature, TransferRecord, Watch
from compat.record.readings import MANIFOLD
from compat.record.record_view import record_view
from compat.record.states import MoveError, State
from compat.record.taking import answer_drift, correct_reading
from compat.record.watching import standing_watch, take_watch
from shared.calc.errors import InputError
from shared.models import Person, TrailRow
from shared.permissions import NotAllowedError
from tests.builders import SECRET
from tests.compat.record.keeping import START, case_of, ended, flowing, on_plan, read

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person | None], Client]
END = START + timedelta(hours=10)
LATER = END + timedelta(hours=1)


def answered(record: TransferRecord, ship: Person, terminal: Person) -> None:
    """Let both sides answer every item on completion."""
    for item in closing_items(record.accord):
        for side in item.answered_by:
            give_check(
                by=ship if side is Side.SHIP else terminal,
                now=END,
                record=record,
                item_key=item.key,
                answer=AnswerChoice.YES,
                values={one.key: "2031-04-15T00:30Z" for one in item.values if one.kind == "moment"},
            )


def settled(ship: Person, terminal: Person) -> TransferRecord:
    record = flowing(ship, terminal)
    read(record, ship, after_h=1)
    ended_by(record, ship)
    answered(record, ship, terminal)
    settle_record(by=ship, now=LATER, record=record)
    record.refresh_from_db()
    return record


def ended_by(record: TransferRecord, ship: Person) -> None:
    end_flow(by=ship, now=END, record=record, at=END)
    record.refresh_from_db()


def sign(record: TransferRecord, by: Person, *, seen: str = "", secret: str = SECRET, **more: bool) -> RecordSignature:
    signed = sign_record(
        by=by,
        now=LATER + timedelta(minutes=5),
        record=record,
        secret=secret,
        title="Person in charge",
        seen_sha256=seen or record.payload_sha256,
        consents=more.get("consents", True),
    )
    record.refresh_from_db()
    return signed


def watch_of(record: TransferRecord, by: Person, after_h: float = 2, **more: str) -> Watch:
    return take_watch(
        by=by,
        now=START + timedelta(hours=after_h),
        record=record,
        secret=more.pop("secret", SECRET),
        title="Chief Officer",
        remark=more.pop("remark", "Tank 4 next."),
        consents=True,
    )


def page(record: TransferRecord, name: str) -> str:
    return reverse(name, args=[record.accord.public_id])


# What keeps a record open


def test_drifts_and_items_on_completion_keep_a_record_open(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    values = on_plan(case_of(record))
    read(record, ship_officer, values={**values, MANIFOLD: values[MANIFOLD] + 1}, confirmed=True)
    ended_by(record, ship_officer)
    left = what_keeps_from_signing(record)
    assert left[0].endswith("drifted; one side explains it.")
    assert sum(sentence.startswith("The ship answers: ") for sentence in left) == len(closing_items(record.accord))
    with pytest.raises(NotCompleteError) as refused:
        settle_record(by=ship_officer, now=LATER, record=record)
    assert refused.value.left == left
    assert TransferRecord.objects.get(pk=record.pk).state == State.COMPLETED


def test_a_required_item_at_no_keeps_it_open(ship_officer: Person, terminal_officer: Person) -> None:
    record = ended(ship_officer, terminal_officer)
    answered(record, ship_officer, terminal_officer)
    must = next(item for item in closing_items(record.accord) if item.severity.must)
    no = {"answer": AnswerChoice.NO, "remark": "Not yet."}
    side = must.answered_by[0]
    by = ship_officer if side is Side.SHIP else terminal_officer
    give_check(by=by, now=END, record=record, item_key=must.key, **no)  # type: ignore[arg-type]
    (sentence,) = what_keeps_from_signing(record)
    assert sentence.startswith(f"The {side} answered “no” to a required item")


def test_nothing_is_settled_while_oil_flows_nor_by_others(
    ship_officer: Person, terminal_officer: Person, ship_reader: Person, auditor: Person, stranger: Person
) -> None:
    record = flowing(ship_officer, terminal_officer)
    with pytest.raises(MoveError, match="“settle” is not possible from there"):
        settle_record(by=ship_officer, now=LATER, record=record)
    ended_by(record, ship_officer)
    for person in (ship_reader, auditor, stranger):
        with pytest.raises(NotAllowedError):
            settle_record(by=person, now=LATER, record=record)


# Both signatures


def test_both_sides_sign_the_same_bytes_and_close_it(ship_officer: Person, terminal_officer: Person) -> None:
    record = settled(ship_officer, terminal_officer)
    sign(record, ship_officer)
    assert record.state == State.SIGNED_BY_SHIP
    assert record.pdf is None
    with pytest.raises(MoveError, match="the terminal signs next"):
        sign(record, ship_officer)
    sign(record, terminal_officer)
    assert record.state == State.CLOSED
    assert record.closed_at is not None
    data, certificate = bytes(record.payload or b""), authority().certificate
    verdict = verify_data(data, bytes(record.signatures or b""), certificate)
    assert verdict.holds, verdict.problems
    assert verdict.file is not None
    assert verdict.file.title.startswith("Record of accord")
    row = TrailRow.objects.get(act="record closed")
    assert record.payload_sha256 in row.facts


def test_a_changed_byte_of_the_record_is_noticed(ship_officer: Person, terminal_officer: Person) -> None:
    record = settled(ship_officer, terminal_officer)
    for person in (ship_officer, terminal_officer):
        sign(record, person)
    data, certificate = bytes(record.payload or b""), authority().certificate
    for old, new in ((b'"on plan', b'"off plan'), (b"0", b"1"), (b"ship", b"slip")):
        if old in data:
            verdict = verify_data(data.replace(old, new, 1), bytes(record.signatures or b""), certificate)
            assert not verdict.holds


def test_a_wrong_secret_or_other_bytes_sign_nothing(
    ship_officer: Person, terminal_officer: Person, ship_reader: Person
) -> None:
    record = settled(ship_officer, terminal_officer)
    with pytest.raises(WrongSecretError):
        sign(record, ship_officer, secret="wrong")
    with pytest.raises(MeanwhileError, match="Nothing was signed"):
        sign(record, ship_officer, seen="0" * 64)
    with pytest.raises(NotAllowedError):
        sign(record, ship_reader)
    PersonKey.objects.filter(person=ship_officer).update(sealed=None)
    with pytest.raises(KeyNeededError):
        sign(record, ship_officer, consents=False)
    assert not record.given.exists()


def test_opening_again_makes_a_signature_void_and_both_sign_anew(
    ship_officer: Person, terminal_officer: Person
) -> None:
    record = settled(ship_officer, terminal_officer)
    sign(record, ship_officer)
    with pytest.raises(InputError):
        reopen_record(by=terminal_officer, now=LATER, record=record, reason=" ")
    reopen_record(by=terminal_officer, now=LATER, record=record, reason="Our quantity was typed wrong.")
    record.refresh_from_db()
    (void,) = record.given.all()
    assert (record.state, record.payload, void.void_reason) == (State.COMPLETED, None, "Our quantity was typed wrong.")
    settle_record(by=ship_officer, now=LATER, record=record)
    record.refresh_from_db()
    for person in (terminal_officer, ship_officer):
        sign(record, person)
    assert record.state == State.CLOSED
    with pytest.raises(MoveError):
        reopen_record(by=ship_officer, now=LATER, record=record, reason="Too late.")


def test_nothing_is_written_into_a_record_that_is_ready_to_sign(ship_officer: Person, terminal_officer: Person) -> None:
    record = settled(ship_officer, terminal_officer)
    with pytest.raises(MeanwhileError):
        read(record, ship_officer, after_h=2)
    with pytest.raises(MeanwhileError):
        watch_of(record, ship_officer)


def test_the_database_keeps_signatures_single_and_records_whole(ship_officer: Person, terminal_officer: Person) -> None:
    record = settled(ship_officer, terminal_officer)
    signed = sign(record, ship_officer)
    again = RecordSignature.objects.get(pk=signed.pk)
    again.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        again.save()
    for changes in ({"void_reason": "x"}, {"person_title": ""}):
        with pytest.raises(IntegrityError), transaction.atomic():
            RecordSignature.objects.filter(pk=signed.pk).update(**changes)
    with pytest.raises(IntegrityError), transaction.atomic():
        TransferRecord.objects.filter(pk=record.pk).update(state=State.CLOSED)


# The PDF, the archive and the command


def test_the_pdf_carries_both_signatures_and_prints_what_was_frozen(
    ship_officer: Person, terminal_officer: Person, tmp_path: Path, whole_plans: None
) -> None:
    record = flowing(ship_officer, terminal_officer)
    first = read(record, ship_officer, after_h=1)
    values = on_plan(case_of(record))
    right = {**values, MANIFOLD: values[MANIFOLD] + 1}
    correct_reading(by=ship_officer, now=END, reading=first, at=first.at, values=values | right, reason="Misread.")
    read(record, terminal_officer, after_h=1, values={MANIFOLD: right[MANIFOLD]}, confirmed=True)
    watch_of(record, ship_officer)
    for one in record.readings.filter(drifted=True, corrected_by=None):
        answer_drift(by=ship_officer, now=END, reading=one, what=DriftAnswer.What.EXPLAINED, said="A valve was shut.")
    ended_by(record, ship_officer)
    answered(record, ship_officer, terminal_officer)
    settle_record(by=ship_officer, now=LATER, record=record)
    record.refresh_from_db()
    for person in (terminal_officer, ship_officer):
        sign(record, person)
    pdf = bytes(record.pdf or b"")
    verdict = verify_pdf(pdf, authority().certificate)
    assert verdict.holds, verdict.problems
    changed = pdf.replace(b"/Producer", b"/Prodocer", 1) if b"/Producer" in pdf else pdf + b" "
    assert not verify_pdf(changed, authority().certificate).holds
    view = record_view(file_of(record))
    (correction,) = view["corrections"]
    assert correction["reason"] == "Misread."
    assert any("Manifold pressure" in change for change in correction["changes"])
    (tmp_path / "record.pdf").write_bytes(pdf)
    if shutil.which("pdftotext"):
        text = subprocess.run(
            ["pdftotext", "-layout", "record.pdf", "-"], cwd=tmp_path, capture_output=True, check=True, text=True
        )
        assert "A valve was shut." in text.stdout
        assert record.payload_sha256 in text.stdout


def test_archive_and_command_verify_everything_elsewhere(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf, tmp_path: Path
) -> None:
    record = flowing(ship_officer, terminal_officer)
    read(record, ship_officer, after_h=1)
    watch_of(record, terminal_officer)
    ended_by(record, ship_officer)
    answered(record, ship_officer, terminal_officer)
    settle_record(by=ship_officer, now=LATER, record=record)
    record.refresh_from_db()
    for person in (ship_officer, terminal_officer):
        sign(record, person)
    answer = client_of(ship_officer).get(page(record, "record-export"))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        archive.extractall(tmp_path)
    subprocess.run(["sha256sum", "--quiet", "-c", "SHA256SUMS"], cwd=tmp_path, check=True)
    for name in ("record", "plan-1", "watch-1"):
        command = ["openssl", "cms", "-verify", "-binary", "-inform", "DER", "-in", f"{name}.json.p7s", "-content"]
        command += [f"{name}.json", "-CAfile", "authority.pem", "-purpose", "any", "-out", "out.json"]
        command += ["-attime", str(int((START + timedelta(hours=3)).timestamp()))]
        subprocess.run(command, cwd=tmp_path, check=True, capture_output=True)
    for name in ("record.json", "plan-1.json"):
        with pytest.raises(SystemExit) as stop:
            call_command("verify_plan", str(tmp_path / name), "--authority", str(tmp_path / "authority.pem"))
        assert stop.value.code == 0
    with pytest.raises(SystemExit) as stop:
        call_command(
            "verify_plan", str(tmp_path / "record.json"), "--authority", str(tmp_path / "authority.pem"), "--trail"
        )
    assert stop.value.code == 0


# Watches


def test_a_watch_is_taken_over_with_ones_own_key(
    ship_officer: Person, terminal_officer: Person, ship_reader: Person, stranger: Person
) -> None:
    record = flowing(ship_officer, terminal_officer, watch_h=4)
    now = START + timedelta(hours=2)
    assert standing_watch(record, Side.SHIP, now).watch is None
    watch = watch_of(record, ship_officer)
    stands = standing_watch(record, Side.SHIP, now + timedelta(hours=4, minutes=1))
    assert stands.watch == watch
    assert stands.overdue
    assert not standing_watch(record, Side.SHIP, now).overdue
    for person in (ship_reader, stranger):
        with pytest.raises(NotAllowedError):
            watch_of(record, person)
    with pytest.raises(WrongSecretError):
        watch_of(record, ship_officer, secret="wrong")
    with pytest.raises(InputError, match="allowed: up to 300"):
        watch_of(record, ship_officer, remark="x" * 301)
    assert record.watches.count() == 1


def test_a_record_with_another_watch_in_it_does_not_hold(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    watch_of(record, ship_officer)
    Watch.objects.update(person_name="Somebody Else")
    ended_by(record, ship_officer)
    answered(record, ship_officer, terminal_officer)
    settle_record(by=ship_officer, now=LATER, record=record)
    record.refresh_from_db()
    for person in (ship_officer, terminal_officer):
        sign(record, person)
    verdict = verify_data(bytes(record.payload or b""), bytes(record.signatures or b""), authority().certificate)
    assert not verdict.holds
    assert "over other words than the record tells" in verdict.problems[0]
    assert read_record(bytes(record.payload or b"")).kind.word == "record"


# Pages


def test_pages_of_closing_as_stranger_reader_and_member(
    ship_officer: Person,
    terminal_officer: Person,
    ship_reader: Person,
    stranger: Person,
    client_of: ClientOf,
) -> None:
    record = flowing(ship_officer, terminal_officer)
    for name in ("record-watch", "record-settle", "record-reopen", "record-sign", "record-draft", "record-pdf"):
        assert client_of(stranger).get(page(record, name)).status_code in {404, 405}
    for name in ("record-watch", "record-reopen", "record-sign"):
        assert client_of(ship_reader).get(page(record, name)).status_code == 403
    form = {"title": "Chief Officer", "remark": "All well.", "secret": SECRET, "consents": "on"}
    shown = client_of(ship_officer).post(page(record, "record-watch"), form, follow=True).text
    assert "You stand the watch for the ship." in shown
    refused = client_of(ship_officer).post(page(record, "record-watch"), form | {"secret": "x"}).text
    assert "This is not your secret" in refused
    assert "All well." in refused  # what was typed stays
    ended_by(record, ship_officer)
    shown = client_of(ship_officer).post(page(record, "record-settle"), follow=True).text
    assert "The ship answers" in shown
    answered(record, ship_officer, terminal_officer)
    assert client_of(ship_reader).post(page(record, "record-settle")).status_code == 403
    assert "ready" in client_of(ship_officer).post(page(record, "record-settle"), follow=True).text
    record.refresh_from_db()
    assert client_of(ship_reader).get(page(record, "record-draft")).content.startswith(b"%PDF-")
    for person, said in ((ship_officer, "The other side signs next."), (terminal_officer, "the record is closed")):
        assert "This record was kept" in client_of(person).get(page(record, "record-sign")).text
        form = {"title": "Officer", "secret": SECRET, "consents": "on", "seen_sha256": record.payload_sha256}
        assert said in client_of(person).post(page(record, "record-sign"), form, follow=True).text
    answer = client_of(ship_reader).get(page(record, "record-pdf"))
    assert answer.headers["Content-Type"] == "application/pdf"
    assert client_of(ship_officer).get(page(record, "record-draft")).status_code == 404
