"""What records teach of a worn ship and a berth that loses more than stated, taken over by its owner only."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from compat.calc.record.gauges import changed_system, gauges_at
from compat.record.learning import accept_lesson, lesson_of
from compat.record.models import DriftAnswer, TransferRecord
from compat.record.moments import Moment, rows_of
from compat.record.readings import DISCHARGE, MANIFOLD, RATE, SPEED, SUCTION, TANK_LEVEL
from compat.record.taking import answer_drift
from shared.calc.errors import InputError
from shared.calc.units import BAR_PA, HOUR_S
from shared.models import Person
from shared.permissions import NotAllowedError
from shared.revisions import ChangedMeanwhileError
from terminals.models import Berth, BerthRevision
from tests.builders import NOW
from tests.compat.calc.record.synthetic import departed
from tests.compat.record.keeping import START, case_of, flowing, read, rounded
from vessels.models import Vessel, VesselRevision

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person | None], Client]
SPEEDS = (1000.0, 1060.0, 1120.0, 1160.0, 1200.0, 1240.0, 1220.0, 1180.0, 1100.0, 1040.0)
KEPT, RESISTANCE = 0.95, 1.2


def teach(record: TransferRecord, by: Person, *, kept: float = KEPT, resistance: float = RESISTANCE) -> None:
    """Take ten hourly readings with pumps and line as given, read with small errors."""
    chance = np.random.default_rng(11)
    case = case_of(record)
    for hour, rpm in enumerate(SPEEDS, start=1):
        own = {f"{SPEED}:{key}": str(rpm) for key in ("P1", "P2")} | {TANK_LEVEL: str(14.0 - 0.5 * hour)}
        rows = rows_of(case, [Moment(own, {})])
        found = gauges_at(changed_system(rows.system, departed(1, (kept, kept), resistance)), rows.speed_rpm)
        values = {key: Decimal(text) for key, text in own.items()}
        values[RATE] = rounded(found.flow_m3_per_s * HOUR_S * (1 + 0.004 * chance.normal()))
        values[MANIFOLD] = rounded(found.manifold_pa_gauge / BAR_PA + 0.02 * chance.normal())
        for place, key in enumerate(("P1", "P2")):
            values[f"{SUCTION}:{key}"] = rounded(found.suction_pa_gauge[:, place] / BAR_PA + 0.02 * chance.normal())
            values[f"{DISCHARGE}:{key}"] = rounded(found.discharge_pa_gauge[:, place] / BAR_PA + 0.02 * chance.normal())
        read(record, by, after_h=hour, values=values, confirmed=True)


@pytest.fixture
def record(ship_officer: Person, terminal_officer: Person) -> TransferRecord:
    found = flowing(ship_officer, terminal_officer)
    teach(found, ship_officer)
    return found


def vessel_of(record: TransferRecord) -> Vessel:
    return record.accord.vessel_revision.vessel


def berth_of(record: TransferRecord) -> Berth:
    return record.accord.berth_revision.berth


def test_a_ship_learns_her_wear_and_a_berth_its_resistance(record: TransferRecord) -> None:
    of_ship = lesson_of(vessel_of(record), [record], with_static=False)
    assert of_ship.pumps_alike or len(of_ship.learned) == 2
    assert all(one.found == pytest.approx(100 * KEPT, abs=1.0) for one in of_ship.learned)
    (of_berth,) = lesson_of(berth_of(record), [record], with_static=False).learned
    assert of_berth.found == pytest.approx(100 * RESISTANCE, rel=0.03)
    assert of_berth.low <= 100 * RESISTANCE <= of_berth.high


def test_forecasts_get_nearer_and_what_it_changes_is_told(record: TransferRecord) -> None:
    lesson = lesson_of(berth_of(record), [record], with_static=False)
    assert lesson.forecast.rate_after_m3_per_s < 0.5 * lesson.forecast.rate_before_m3_per_s
    assert (lesson.records, lesson.readings) == (1, 10)
    assert lesson.effect is not None
    assert lesson.effect[2] <= lesson.effect[1]


def test_nothing_changes_before_the_owner_takes_it_over(
    record: TransferRecord, ship_officer: Person, terminal_officer: Person
) -> None:
    vessel, berth = vessel_of(record), berth_of(record)
    of_ship = lesson_of(vessel, [record], with_static=False)
    of_berth = lesson_of(berth, [record], with_static=False)
    assert VesselRevision.objects.filter(vessel=vessel).count() == 1
    accept_lesson(by=ship_officer, now=NOW, subject=vessel, lesson=of_ship, seen=of_ship.as_text(), started_from=1)
    accept_lesson(by=terminal_officer, now=NOW, subject=berth, lesson=of_berth, seen=of_berth.as_text(), started_from=1)
    pumps = VesselRevision.objects.filter(vessel=vessel).latest("number").ship_facts().pumps
    assert pumps[0].head_kept_percent == pytest.approx(95.0, abs=1.0)
    newest = BerthRevision.objects.filter(berth=berth).latest("number")
    found = newest.berth_facts().found
    assert found is not None
    assert found.resistance_percent == pytest.approx(120.0, rel=0.03)
    assert newest.note == "From 10 readings of 1 transfer records"


def test_only_the_owner_takes_it_over(
    record: TransferRecord,
    ship_officer: Person,
    terminal_officer: Person,
    ship_reader: Person,
    stranger: Person,
    auditor: Person,
) -> None:
    berth = berth_of(record)
    lesson = lesson_of(berth, [record], with_static=False)
    for person in (ship_officer, ship_reader, stranger, auditor):
        with pytest.raises(NotAllowedError):
            accept_lesson(by=person, now=NOW, subject=berth, lesson=lesson, seen=lesson.as_text(), started_from=1)
    vessel = vessel_of(record)
    own = lesson_of(vessel, [record], with_static=False)
    for person in (terminal_officer, ship_reader):
        with pytest.raises(NotAllowedError):
            accept_lesson(by=person, now=NOW, subject=vessel, lesson=own, seen=own.as_text(), started_from=1)


def test_what_was_not_seen_is_not_taken_over(record: TransferRecord, terminal_officer: Person) -> None:
    berth = berth_of(record)
    lesson = lesson_of(berth, [record], with_static=False)
    with pytest.raises(InputError, match="Meanwhile readings came in"):
        accept_lesson(by=terminal_officer, now=NOW, subject=berth, lesson=lesson, seen="else", started_from=1)
    with pytest.raises(ChangedMeanwhileError):
        accept_lesson(by=terminal_officer, now=NOW, subject=berth, lesson=lesson, seen=lesson.as_text(), started_from=9)


def test_learning_again_finds_the_same_and_not_the_rest(record: TransferRecord, terminal_officer: Person) -> None:
    # What was learned counts on top of what is stated; the fit starts from what is stated each time.
    berth = berth_of(record)
    first = lesson_of(berth, [record], with_static=False)
    accept_lesson(by=terminal_officer, now=NOW, subject=berth, lesson=first, seen=first.as_text(), started_from=1)
    again = lesson_of(berth, [record], with_static=False)
    assert again.learned[0].found == pytest.approx(first.learned[0].found)
    assert again.learned[0].in_use == pytest.approx(first.learned[0].found, abs=0.1)


def test_a_reading_whose_drift_was_explained_does_not_count(record: TransferRecord, terminal_officer: Person) -> None:
    drifted = record.readings.filter(drifted=True)
    assert drifted.exists()
    one = drifted.first()
    assert one is not None
    answer_drift(
        by=terminal_officer, now=START, reading=one, what=DriftAnswer.What.EXPLAINED, said="The strainer was fouled."
    )
    assert lesson_of(berth_of(record), [record], with_static=False).readings == 9


def test_without_readings_it_says_what_is_needed(ship_officer: Person, terminal_officer: Person) -> None:
    record = flowing(ship_officer, terminal_officer)
    with pytest.raises(InputError, match="No reading counts yet"):
        lesson_of(vessel_of(record), [record], with_static=False)


def test_the_owners_pages_show_it_and_take_it_over(
    record: TransferRecord,
    ship_officer: Person,
    ship_reader: Person,
    terminal_officer: Person,
    stranger: Person,
    client_of: ClientOf,
) -> None:
    vessel, berth = vessel_of(record), berth_of(record)
    ship_page = reverse("learned-vessel", args=[vessel.public_id])
    berth_page = reverse("learned-berth", args=[berth.public_id])
    for person, own, foreign in ((ship_officer, ship_page, berth_page), (terminal_officer, berth_page, ship_page)):
        client = client_of(person)
        shown = client.get(own).text
        assert "Range, 90 of 100" in shown
        assert "Take it over" in shown
        assert client.get(foreign).status_code == 404
    assert client_of(stranger).get(ship_page).status_code == 404
    reader = client_of(ship_reader)
    assert "Take it over" not in reader.get(ship_page).text
    seen = lesson_of(vessel, [record], with_static=False).as_text()
    sent = {"seen": seen, "started_from": "1"}
    assert reader.post(ship_page, sent).status_code == 403
    taken = client_of(ship_officer).post(ship_page, sent, follow=True)
    assert "Taken over as revision 2" in taken.text
    picture = client_of(terminal_officer).get(reverse("learned-berth-residuals", args=[berth.public_id]))
    assert picture["Content-Type"] == "image/svg+xml"


def test_the_ship_is_not_told_what_the_terminals_line_loses(
    record: TransferRecord, ship_officer: Person, client_of: ClientOf
) -> None:
    shown = client_of(ship_officer).get(reverse("learned-vessel", args=[vessel_of(record).public_id])).text
    assert "Head lost in arms and line" not in shown
