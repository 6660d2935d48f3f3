"""Hours at pressure and the usual warranty, on records small enough to count by hand."""

from __future__ import annotations

import pytest

from compat.calc.record.performance import Performance, Restriction, Warranty, performance
from shared.calc.errors import InputError
from shared.calc.units import BAR_PA

SEVEN = 7.0 * BAR_PA
USUAL = Warranty(hours=24.0, pressure_pa_gauge=SEVEN)


def counted(
    bars: list[float], *, every_h: float = 1.0, warranty: Warranty = USUAL, until: float | None = None, **more: object
) -> Performance:
    hours = [every_h * i for i in range(len(bars))]
    end = hours[-1] if until is None else until
    given: dict[str, object] = {"pumped": [(0.0, end)], "bulk": [(0.0, end)], "restrictions": [], **more}
    return performance(hours, [bar * BAR_PA for bar in bars], warranty=warranty, **given)  # type: ignore[arg-type]


def test_the_whole_cargo_in_24_hours_is_kept_by_time_whatever_the_pressure() -> None:
    found = counted([5.0, 5.0], every_h=24.0)
    assert found.kept == "by time"
    assert (found.pumping_hours, found.allowed_hours) == (24.0, 24.0)
    assert found.short_hours == 24.0


def test_longer_than_24_hours_at_7_bar_is_kept_by_pressure() -> None:
    found = counted([7.2, 7.0, 7.4], every_h=15.0)
    assert found.kept == "by pressure"
    assert found.hours_at_pressure == pytest.approx(30.0)
    assert found.mean_pressure_pa_gauge == pytest.approx(7.15 * BAR_PA)


def test_hours_below_the_pressure_are_counted_along_the_straight_line_between_readings() -> None:
    # 8 bar falls to 6 bar over 10 h: at 7 bar after 5 h; then 20 h at 6 bar.
    found = performance(
        [0.0, 10.0, 30.0],
        [8 * BAR_PA, 6 * BAR_PA, 6 * BAR_PA],
        pumped=[(0.0, 30.0)],
        bulk=[(0.0, 30.0)],
        restrictions=[],
        warranty=USUAL,
    )
    assert found.kept == "not kept"
    assert found.short_hours == pytest.approx(25.0)
    assert found.hours_at_pressure == pytest.approx(5.0)


def test_a_pressure_that_the_terminal_allows_no_higher_is_all_that_can_be_asked() -> None:
    held = [Restriction((0.0, 30.0), 5.5 * BAR_PA)]
    assert counted([5.5, 5.6, 5.5], every_h=15.0, restrictions=held).kept == "within the terminal's restrictions"
    below = counted([5.5, 5.0, 5.5], every_h=15.0, restrictions=held)
    assert below.kept == "not kept"
    assert below.short_hours == pytest.approx(30.0)


def test_hours_held_back_by_rate_are_excused_whatever_the_pressure() -> None:
    found = counted([8.0, 8.0, 3.0, 3.0], every_h=10.0, restrictions=[Restriction((15.0, 30.0))])
    assert found.short_hours == pytest.approx(
        3.0
    )  # 8 to 3 bar from hour 10 to 20: below 7 bar from 12, held back from 15
    assert found.short_hours + found.hours_at_pressure + found.excused_hours == pytest.approx(30.0)


def test_hours_count_pro_rata_and_with_hours_for_washing() -> None:
    found = counted([6.0, 6.0], every_h=20.0, warranty=Warranty(24.0, SEVEN, extra_hours=6.0, part=0.5))
    assert found.allowed_hours == 18.0
    assert found.kept == "not kept"


def test_the_gauges_own_accuracy_is_not_held_against_her() -> None:
    assert counted([6.95, 6.95], every_h=30.0, gauge_pa=0.1 * BAR_PA).kept == "by pressure"


def test_hours_without_readings_leave_it_undecided() -> None:
    found = counted([7.5, 7.5], every_h=10.0, until=30.0)
    assert found.kept == "not decided"
    assert found.unread_hours == pytest.approx(20.0)


def test_stops_are_no_pumping() -> None:
    found = performance(
        [0.0, 30.0],
        [6 * BAR_PA, 6 * BAR_PA],
        pumped=[(0.0, 10.0), (16.0, 30.0)],
        bulk=[(1.0, 10.0), (16.0, 29.0)],
        restrictions=[],
        warranty=USUAL,
    )
    assert found.pumping_hours == 24.0
    assert found.kept == "by time"
    assert found.bulk_hours == 22.0


def test_seven_bar_and_a_hundred_psi_are_not_the_same() -> None:
    # 100 psi = 6.8948 bar (NIST SP 811, appendix B; from memory).
    psi = Warranty(24.0, 6.8948 * BAR_PA)
    assert counted([6.95, 6.95], every_h=30.0, warranty=psi).kept == "by pressure"
    assert counted([6.95, 6.95], every_h=30.0).kept == "not kept"


def test_readings_out_of_order_are_refused() -> None:
    with pytest.raises(InputError, match="not in order of time"):
        performance([1.0, 0.0], [SEVEN, SEVEN], pumped=[], bulk=[], restrictions=[], warranty=USUAL)
