"""Takes a record to any state by its own acts, and makes readings on plan by the engine itself."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np

from compat.accord.models import Accord
from compat.accord.states import State as AccordState
from compat.calc.record.gauges import gauges_at
from compat.case.case_file import CaseFile
from compat.record.arrangement import PROPOSAL, check_arrangement
from compat.record.chain import current_accord, planned
from compat.record.flowing import end_flow, say_go
from compat.record.models import Reading, TransferRecord
from compat.record.moments import Moment, rows_of
from compat.record.opening import accept_arrangement, open_record
from compat.record.readings import DISCHARGE, MANIFOLD, RATE, SPEED, SUCTION, TANK_LEVEL
from compat.record.taking import take_reading
from shared.calc.units import BAR_PA, HOUR_S
from shared.models import Person
from tests.builders import NOW
from tests.compat.accord.building import bring_to

START = NOW + timedelta(hours=8)
ARRANGEMENT = check_arrangement(PROPOSAL)


def open_kept(ship: Person, terminal: Person, accord: Accord | None = None, **changes: Any) -> TransferRecord:
    """Open a record under a plan in force, its arrangement agreed."""
    accord = accord or bring_to(AccordState.IN_FORCE, ship, terminal)
    arrangement = check_arrangement({**PROPOSAL, **changes})
    record = open_record(by=ship, now=NOW, accord=accord, arrangement=arrangement)
    accept_arrangement(by=terminal, now=NOW, record=record, seen=record.arranged_at)
    record.refresh_from_db()
    return record


def flowing(ship: Person, terminal: Person, *, at: datetime = START, **changes: Any) -> TransferRecord:
    """Open a record and let oil flow from ``at``."""
    record = open_kept(ship, terminal, **changes)
    say_go(by=ship, now=at, record=record)
    say_go(by=terminal, now=at, record=record)
    record.refresh_from_db()
    return record


def ended(ship: Person, terminal: Person, *, hours: float = 10) -> TransferRecord:
    """Let oil flow for some hours, and end."""
    record = flowing(ship, terminal)
    at = START + timedelta(hours=hours)
    end_flow(by=ship, now=at, record=record, at=at)
    record.refresh_from_db()
    return record


def on_plan(case: CaseFile, rpm: float = 1250.0, level_m: float = 12.0, **others: str) -> dict[str, Decimal]:
    """Return what every gauge reads at a speed, exactly as the model has it."""
    speeds = {f"{SPEED}:{key}": str(rpm) for key in ("P1", "P2")}
    rows = rows_of(case, [Moment({**speeds, TANK_LEVEL: str(level_m)}, others)])
    found = gauges_at(rows.system, rows.speed_rpm)
    values = {key: Decimal(text) for key, text in speeds.items()}
    values[TANK_LEVEL] = Decimal(str(level_m))
    values[RATE] = rounded(found.flow_m3_per_s * HOUR_S)
    values[MANIFOLD] = rounded(found.manifold_pa_gauge / BAR_PA)
    for place, key in enumerate(("P1", "P2")):
        values[f"{SUCTION}:{key}"] = rounded(found.suction_pa_gauge[:, place] / BAR_PA)
        values[f"{DISCHARGE}:{key}"] = rounded(found.discharge_pa_gauge[:, place] / BAR_PA)
    return values


def rounded(values: np.ndarray) -> Decimal:
    """Return a reading as a gauge shows it."""
    return Decimal(str(round(float(values.reshape(-1)[0]), 3)))


def case_of(record: TransferRecord) -> CaseFile:
    """Return the plan's case under which a record runs."""
    return planned(current_accord(record))[0]


def read(
    record: TransferRecord,
    by: Person,
    *,
    after_h: float = 1.0,
    values: Mapping[str, Decimal] | None = None,
    **more: Any,
) -> Reading:
    """Take a reading some hours after the start; exactly on plan unless values are given."""
    at = START + timedelta(hours=after_h)
    given = on_plan(case_of(record)) if values is None else dict(values)
    return take_reading(by=by, now=more.pop("now", at), record=record, at=at, values=given, **more)
