"""Hours by stage, stops and what the terminal held back, counted by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

import pytest

from compat.record.events import ALL_ON_SHEET, Kind
from compat.record.timesheet import Sheet, sheet_of
from tests.builders import NOW


@dataclass(frozen=True)
class Line:
    kind: str
    at: object
    remark: str = ""
    caused_by: str = ""
    pressure_bar_gauge: Decimal | None = None


def sheet(*lines: tuple[float, Kind] | tuple[float, Kind, dict[str, object]]) -> Sheet:
    made = []
    for hours, kind, *more in lines:
        made.append(Line(str(kind), NOW + timedelta(hours=hours), **(more[0] if more else {})))  # type: ignore[arg-type]
    return sheet_of(made)  # type: ignore[arg-type]


WHOLE = sheet(
    (0, Kind.NOTICE),
    (2, Kind.MOORED),
    (3.5, Kind.CONNECTED),
    (5, Kind.STARTED),
    (6, Kind.FULL_RATE),
    (10, Kind.STOPPED, {"caused_by": "terminal", "remark": "Tank change"}),
    (11.5, Kind.RESTARTED),
    (14, Kind.HELD_BACK, {"pressure_bar_gauge": Decimal(5)}),
    (16, Kind.SET_FREE),
    (25, Kind.STRIPPING),
    (28, Kind.ENDED),
    (29.5, Kind.HOSES_OFF),
)


@pytest.mark.parametrize(
    ("stage", "hours"),
    [
        ("Notice to all fast", 2),
        ("All fast to connected", 1.5),
        ("Connected to flow", 1.5),
        ("Start to full rate", 1),
        ("Stripping", 3),
        ("Flow, stops included", 23),
        ("End of flow to hoses off", 1.5),
        ("Notice to hoses off", 29.5),
    ],
)
def test_hours_by_stage(stage: str, hours: float) -> None:
    assert {one.name: one.hours for one in WHOLE.stages}[stage] == pytest.approx(hours)


def test_stops_with_their_cause_and_hours() -> None:
    (stop,) = WHOLE.stops
    assert (stop.hours, stop.caused_by, stop.reason) == (1.5, "terminal", "Tank change")
    assert WHOLE.stopped_hours("terminal") == 1.5
    assert WHOLE.stopped_hours("ship") == 0


def test_spans_with_flow_and_those_in_which_pressure_is_kept() -> None:
    assert WHOLE.pumped() == [(0.0, 5.0), (6.5, 23.0)]
    assert WHOLE.bulk() == [(1.0, 5.0), (6.5, 20.0)]


def test_what_held_her_back() -> None:
    held = WHOLE.restrictions(8.0)
    assert [(one.span, one.pressure_pa_gauge) for one in held] == [((0.0, 23.0), 8e5), ((9.0, 11.0), 5e5)]


def test_a_complete_sheet_misses_nothing_and_an_empty_one_everything() -> None:
    assert WHOLE.missing == ()
    assert sheet_of([]).missing == ALL_ON_SHEET
    assert sheet_of([]).pumped() == []


def test_a_stop_that_has_not_ended_has_no_hours_yet() -> None:
    found = sheet((0, Kind.STARTED), (3, Kind.STOPPED))
    assert found.stops[0].hours is None
    assert found.pumped() == [(0.0, 3.0)]


def test_a_transfer_that_ends_while_it_is_stopped_was_stopped_to_its_end() -> None:
    found = sheet((0, Kind.STARTED), (3, Kind.STOPPED), (5, Kind.ENDED))
    assert found.pumped() == [(0.0, 3.0)]
