"""Time sheet and pumping performance of a record, read from its rows."""

from __future__ import annotations

from django.db.models import Max

from compat.accord.checklist.item import Side
from compat.record.chain import current_accord, planned
from compat.record.models import TransferRecord
from compat.record.performance_view import Asked, Told, told
from compat.record.readings import DISCHARGED
from compat.record.taking import standing_readings
from compat.record.timesheet import Sheet, sheet_of


def counted(record: TransferRecord, asked: Asked | None = None) -> tuple[Sheet, Told | None]:
    """Return the time sheet, and the performance against what was ``asked`` (the usual warranty where nothing was)."""
    seen = standing_readings(record).aggregate(last=Max("at"))["last"]
    sheet = sheet_of(list(record.events.filter(corrected_by=None).select_related("by", "corrects")), seen)
    case, answer = planned(current_accord(record))
    ship = list(standing_readings(record).filter(side=Side.SHIP).values_list("at", "values"))
    found = told(
        sheet,
        ship,
        asked=asked or Asked(),
        agreed_bar_gauge=case.agreed.manifold_pressure_bar_gauge,
        planned=answer,
        discharged=next(
            ((at, float(values[DISCHARGED])) for at, values in reversed(ship) if DISCHARGED in values), None
        ),
        gauge_bar=record.arranged().pressure_sure_bar,
    )
    return sheet, found
