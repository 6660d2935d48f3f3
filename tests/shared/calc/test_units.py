"""Units against NIST SP 811, appendix B (exact values, from memory) and the closed list that holds them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.calc.errors import InputError
from shared.calc.units import UNITS, Unit, convert, from_si, to_si, unit_named, units_of
from tests.reference_tables import reference_rows

PUBLISHED = reference_rows("units")
SYMBOLS = sorted(UNITS)


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row['value']} {row['unit']} in {row['other_unit']}")
def test_published_conversions(row: dict[str, str]) -> None:
    other = Decimal(row["other_value"])
    rounding = Decimal((0, (1,), int(other.as_tuple().exponent))) / 2
    assert abs(convert(Decimal(row["value"]), row["unit"], row["other_unit"]) - other) <= rounding
    assert from_si(to_si(float(row["value"]), row["unit"]), row["other_unit"]) == pytest.approx(
        float(other), abs=float(rounding) * 1.000001
    )


def test_head_of_one_bar_and_of_hundred_metres() -> None:
    for row in reference_rows("head_of_liquid"):
        weight = float(row["density_kg_per_m3"]) * 9.80665
        assert to_si(1.0, "bar") / weight == pytest.approx(float(row["head_of_1_bar_m"]), abs=5e-4)
        assert to_si(7.0, "bar") / weight == pytest.approx(float(row["head_of_7_bar_m"]), abs=5e-3)
        assert to_si(10.0, "kgf/cm²") / weight == pytest.approx(float(row["head_of_10_kgf_per_cm2_m"]), abs=5e-3)
        assert from_si(100.0 * weight, "bar") == pytest.approx(float(row["pressure_of_100_m_bar"]), abs=5e-4)


@given(
    st.sampled_from(SYMBOLS).flatmap(
        lambda symbol: st.tuples(
            st.just(symbol), st.sampled_from([unit.symbol for unit in units_of(UNITS[symbol].quantity)])
        )
    ),
    st.decimals(min_value=-100_000, max_value=100_000, places=4),
)
def test_there_and_back_again(pair: tuple[str, str], value: Decimal) -> None:
    back = convert(convert(value, *pair), *reversed(pair))
    assert abs(back - value) <= Decimal("1e-18") * max(abs(value), 1000)


@given(st.sampled_from(SYMBOLS), st.floats(-1e6, 1e6))
def test_floats_agree_with_decimals(symbol: str, value: float) -> None:
    unit = UNITS[symbol]
    exact = (Decimal(value) + unit.offset) * unit.factor
    assert to_si(value, symbol) == pytest.approx(float(exact), rel=1e-14, abs=1e-12)
    assert from_si(to_si(value, symbol), symbol) == pytest.approx(value, rel=1e-13, abs=1e-9)


def test_a_value_kept_in_its_own_unit_is_not_touched() -> None:
    assert convert(Decimal("7.10"), "bar", "bar").as_tuple() == Decimal("7.10").as_tuple()
    assert convert(Decimal("380.0"), "cSt", "mm²/s").as_tuple() == Decimal("380.0").as_tuple()


def test_unknown_unit_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError, match=r"Unit “mb” is not known; use one of m, .*bar.*kgf/cm²"):
        unit_named("mb")


def test_quantities_are_not_mixed() -> None:
    with pytest.raises(InputError, match="bar is a pressure, m³/h is a flow"):
        convert(Decimal(1), "bar", "m³/h")


@pytest.mark.parametrize("unit", UNITS.values(), ids=lambda unit: unit.symbol)
def test_every_quantity_has_one_unit_that_is_si_itself(unit: Unit) -> None:
    own = [other for other in units_of(unit.quantity) if other.factor == 1 and other.offset == 0]
    assert own or unit.quantity == "percent"  # a percent has no unit of its own; the number 1 is "1"
    assert unit.factor > 0
