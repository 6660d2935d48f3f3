"""Pages of a record as stranger, reader and member, and what they show and take."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from compat.accord import actions as accord_actions
from compat.record.models import DriftAnswer, Reading, TransferRecord
from compat.record.readings import MANIFOLD
from compat.record.states import State
from shared.models import Person, TrailRow
from tests.builders import NOW
from tests.compat.accord.building import bring_to
from tests.compat.record.keeping import case_of, flowing, on_plan, open_kept, read
from tests.pages import send, sent_by, with_values

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person | None], Client]
READ_PAGES = ("record", "record-readings", "record-picture")
MEMBER_PAGES = ("record-reading-new", "record-import", "record-template", "record-stop", "record-end", "record-event")


@pytest.fixture
def record(ship_officer: Person, terminal_officer: Person) -> TransferRecord:
    found = flowing(ship_officer, terminal_officer)
    read(found, ship_officer)
    return found


def page(record: TransferRecord, name: str, *more: Any) -> str:
    return reverse(name, args=[record.accord.public_id, *more])


def drifted(record: TransferRecord, by: Person) -> Reading:
    values = on_plan(case_of(record))
    return read(record, by, values={**values, MANIFOLD: values[MANIFOLD] + 1}, after_h=2, confirmed=True)


def all_pages(record: TransferRecord) -> list[str]:
    number = record.readings.first().pk  # type: ignore[union-attr]
    event = record.events.first().pk  # type: ignore[union-attr]
    found = [page(record, name) for name in (*READ_PAGES, *MEMBER_PAGES, "record-arrange", "record-open")]
    found += [page(record, "record-reading", number), page(record, "record-correct", number)]
    return [*found, page(record, "record-event-correct", event), page(record, "record-check", "watch.no-leaks")]


def test_for_a_stranger_no_page_of_a_record_exists(
    record: TransferRecord, stranger: Person, auditor: Person, client_of: ClientOf
) -> None:
    for person in (stranger, auditor):
        client = client_of(person)
        assert {client.get(address).status_code for address in all_pages(record)} == {404}
        for name in ("record-go", "record-accept"):
            assert client.post(page(record, name)).status_code == 404


def test_a_reader_sees_and_does_not_act(record: TransferRecord, ship_reader: Person, client_of: ClientOf) -> None:
    client = client_of(ship_reader)
    number = record.readings.first().pk  # type: ignore[union-attr]
    seen = [page(record, name) for name in READ_PAGES] + [page(record, "record-reading", number)]
    assert {client.get(address).status_code for address in seen} == {200}
    acts = [page(record, name) for name in MEMBER_PAGES] + [page(record, "record-check", "watch.no-leaks")]
    assert {client.get(address).status_code for address in acts} == {403}
    assert client.post(page(record, "record-go")).status_code == 403
    assert client.post(page(record, "record-reading", number), {"said": "x", "what": "explained"}).status_code == 403
    shown = client.get(page(record, "record")).text
    assert "Take a reading" not in shown
    assert "Log a stop" not in shown


def test_an_auditor_who_was_let_in_reads_and_each_reading_is_noted(
    record: TransferRecord, auditor: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    assert auditor.organisation is not None
    accord_actions.grant_audit(by=terminal_officer, now=NOW, accord=record.accord, organisation=auditor.organisation)
    client = client_of(auditor)
    assert client.get(page(record, "record")).status_code == 200
    assert client.get(page(record, "record-reading-new")).status_code == 403
    assert TrailRow.objects.filter(act="accord read by auditor", facts__contains="transfer record").exists()


def test_opening_a_record_from_the_accord(ship_officer: Person, terminal_officer: Person, client_of: ClientOf) -> None:
    accord = bring_to("in force", ship_officer, terminal_officer)  # type: ignore[arg-type]
    client = client_of(ship_officer)
    assert "Open the transfer record" in client.get(reverse("accord", args=[accord.public_id])).text
    address = reverse("record-open", args=[accord.public_id])
    sent = [*sent_by(client.get(address), "panel"), ("agreed_action", "Slow down and call the other side.")]
    refused = send(client, address, with_values(sent, band_percent="51"))
    assert "Band on rate and pressures, of what is expected is 51 %; allowed: 0 to 50 %." in refused.text
    opened = send(client, address, with_values(sent, band_percent="4"))
    assert opened.status_code == 302
    record = TransferRecord.objects.get()
    assert record.arranged().band_percent == 4.0
    other = client_of(terminal_officer)
    assert "Accept for the terminal" in other.get(page(record, "record")).text
    other.post(page(record, "record-accept"), {"seen": record.arranged_at.isoformat()})
    for person in (client, other):
        person.post(page(record, "record-go"))
    record.refresh_from_db()
    assert record.state == State.FLOWING


def typed(record: TransferRecord, **changes: str) -> dict[str, str]:
    values = {key.replace(":", "__"): str(value) for key, value in on_plan(case_of(record)).items()}
    return {**values, "at": timezone.now().strftime("%Y-%m-%dT%H:%M"), **changes}


def test_a_reading_is_typed_in_ones_own_units_and_kept(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = flowing(ship_officer, terminal_officer, at=timezone.now() - timedelta(hours=2))
    ship_officer.units = {"pressure": "kgf/cm²"}
    ship_officer.save()
    client = client_of(ship_officer)
    form = client.get(page(record, "record-reading-new"))
    assert "kgf/cm²" in form.text
    sent = typed(record, manifold_pressure_bar_gauge="6.085686", manifold_pressure_bar_gauge_unit="kgf/cm²")
    answer = client.post(page(record, "record-reading-new"), sent, follow=True)
    assert "The reading is kept; it agrees with the plan." in answer.text
    reading = record.readings.get()
    # 6.085686 kgf/cm2 x 0.980665 = 5.968 bar (NIST SP 811; from memory)
    assert float(reading.values[MANIFOLD]) == pytest.approx(5.968, abs=1e-4)
    assert reading.typed[MANIFOLD] == "6.085686 kgf/cm²"


def test_a_doubtful_reading_is_shown_again_with_what_was_typed(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    sent = typed(record, manifold_pressure_bar_gauge="19.5", at="2031-04-14T17:30")
    asked = client.post(page(record, "record-reading-new"), sent)
    assert "Look once more" in asked.text
    assert 'value="19.5"' in asked.text
    assert record.readings.count() == 1
    client.post(page(record, "record-reading-new"), {**sent, "confirmed": "on"})
    assert record.readings.count() == 2


def test_speeds_are_taken_as_before_only_when_the_person_says_so(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    assert "they are as before: P1 1250, P2 1250 rpm" in client.get(page(record, "record-reading-new")).text
    sent = {"at": "2031-04-14T17:30", "manifold_pressure_bar_gauge": "5.95", "confirmed": "on"}
    client.post(page(record, "record-reading-new"), sent)
    client.post(page(record, "record-reading-new"), {**sent, "at": "2031-04-14T18:30", "speeds_as_before": "on"})
    without, with_speeds = list(record.readings.order_by("at"))[1:]
    assert "speed_rpm:P1" not in without.values
    assert with_speeds.values["speed_rpm:P1"] == "1250"


def test_a_drift_is_shown_with_its_causes_and_answered_on_its_page(
    record: TransferRecord, ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    reading = drifted(record, ship_officer)
    client = client_of(terminal_officer)
    shown = client.get(page(record, "record")).text
    assert "drift not explained" in shown
    told = client.get(page(record, "record-reading", reading.pk)).text
    assert "A wrong gauge: “Manifold pressure” reads" in told
    assert "What every gauge would read" in told
    client.post(page(record, "record-reading", reading.pk), {"what": "explained", "said": "Gauge changed."})
    assert DriftAnswer.objects.get().said == "Gauge changed."
    assert "drift not explained" not in client.get(page(record, "record")).text


def test_past_the_agreed_time_the_agreed_action_is_shown(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    reading = drifted(record, ship_officer)
    monkeypatch.setattr(timezone, "now", lambda: reading.entered_at + timedelta(minutes=31))
    shown = client_of(ship_officer).get(page(record, "record")).text
    assert "Not explained within 30 min. Agreed action: Slow down to the start rate" in shown


def test_a_correction_by_its_page_keeps_the_old_one_in_sight(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    reading = drifted(record, ship_officer)
    client = client_of(ship_officer)
    address = page(record, "record-correct", reading.pk)
    sent = {**typed(record), "at": "2031-04-14T16:30", "reason": "Read the wrong gauge."}
    shown = client.post(address, sent, follow=True).text
    assert "Corrects an earlier reading: Read the wrong gauge." in shown
    old = client.get(page(record, "record-reading", reading.pk)).text
    assert "The reading that counts" in old


def test_a_plain_yes_is_one_post_and_a_no_holds(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    address = page(record, "record-check", "watch.no-leaks")
    assert client.post(address, {"answer": "yes"}).status_code == 302
    refused = client.post(address, {"answer": "no"})
    assert "needs a remark" in refused.text
    held = client.post(address, {"answer": "no", "remark": "Drip at the reducer."}, follow=True)
    assert "The transfer is held" in held.text
    assert "Drip at the reducer." in held.text


def test_a_pasted_table_is_looked_at_first_and_then_kept(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    values = on_plan(case_of(record))
    text = "Time (UTC)\tManifold pressure [bar]\n" + "".join(
        f"2031-04-14 {hour}:30\t{values[MANIFOLD]}\n" for hour in (16, 17, 18)
    )
    look = client.post(page(record, "record-import"), {"pasted": text})
    assert "3 readings in the table" in look.text
    assert record.readings.count() == 1
    sent = sent_by(look, "row-of-acts")
    kept = client.post(page(record, "record-import"), dict(sent), follow=True)
    assert "3 readings are kept" in kept.text
    assert {one.source for one in record.readings.all()} == {"typed", "imported"}


def test_a_table_with_questions_is_kept_only_when_they_were_looked_at(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    client = client_of(ship_officer)
    file = SimpleUploadedFile("log.csv", b"Time (UTC),Manifold pressure\n2031-04-14 16:30,19.5\n")
    look = client.post(page(record, "record-import"), {"file": file})
    assert "Row 2: Manifold pressure went from" in look.text
    sent = dict(sent_by(look, "row-of-acts"))
    assert "Look at the questions" in client.post(page(record, "record-import"), sent).text
    assert record.readings.count() == 1
    client.post(page(record, "record-import"), {**sent, "confirmed": "on"})
    assert record.readings.count() == 2


@pytest.mark.parametrize("table", ["", "not json", '{"a": 1}', "[[1,[2]]]"])
def test_a_table_damaged_between_the_two_steps_is_refused(
    table: str, record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    answer = client_of(ship_officer).post(page(record, "record-import"), {"table": table})
    assert answer.status_code == 302
    assert record.readings.count() == 1


def test_both_sides_see_what_is_overdue_on_either(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = flowing(ship_officer, terminal_officer, at=timezone.now() - timedelta(hours=3))
    for person in (ship_officer, terminal_officer):
        shown = client_of(person).get(page(record, "record")).text
        assert shown.count("min late") >= 6
        assert "overdue." in client_of(person).get(reverse("home")).text


def test_a_whole_record_of_48_hours_at_15_minutes_asks_few_queries(
    record: TransferRecord,
    ship_officer: Person,
    client_of: ClientOf,
    django_assert_max_num_queries: Callable[[int], Any],
) -> None:
    first = record.readings.get()
    rows = [
        Reading(
            record=record,
            side="ship",
            at=first.at + timedelta(minutes=15 * step),
            values=first.values,
            comparison=first.comparison,
            plan_number=1,
            by=ship_officer,
            entered_at=first.entered_at,
        )
        for step in range(1, 192)
    ]
    Reading.objects.bulk_create(rows)
    client = client_of(ship_officer)
    with django_assert_max_num_queries(60):
        assert "The newest 24 of 192." in client.get(page(record, "record")).text


def test_the_waiting_arrangement_stands_on_the_home_page_of_the_other_side(
    ship_officer: Person, terminal_officer: Person, client_of: ClientOf
) -> None:
    record = open_kept(ship_officer, terminal_officer)
    TransferRecord.objects.filter(pk=record.pk).update(state=State.PROPOSED)
    assert "how the record is kept waits" in client_of(terminal_officer).get(reverse("home")).text
    assert "how the record is kept waits" not in client_of(ship_officer).get(reverse("home")).text


def test_decimal_values_come_back_as_they_were_typed(record: TransferRecord, ship_officer: Person) -> None:
    reading = read(record, ship_officer, values={MANIFOLD: Decimal("6.10")}, after_h=2)
    assert reading.values[MANIFOLD] == "6.1"
    assert reading.value(MANIFOLD) == Decimal("6.1")
