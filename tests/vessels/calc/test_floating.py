"""Draught against published tonnes per centimetre (Barrass & Derrett, Ship Stability for Masters and Mates, ch. 8)."""

from __future__ import annotations

import numpy as np
import pytest

from shared.calc.errors import InputError
from vessels.calc.floating import floating_by_displacement, floating_by_tpc

# Box 300 m by 50 m in sea water: TPC = 300 * 50 * 1.025 / 100 (same source).
BOX_TPC = 153.75
# Table to plot in the same chapter: 3.2 m, 3.7 m and 4.3 m are read as 8.20, 8.78 and 9.68 t/cm.
BOOK_DRAUGHT, BOOK_TPC = [3.0, 3.5, 4.0, 4.5], [8.0, 8.5, 9.2, 10.0]


def box() -> tuple[list[float], list[float]]:
    return [2.0, 20.0], [BOX_TPC * 200.0, BOX_TPC * 2000.0]


def test_ten_thousand_tonnes_out_of_a_ship_of_c_w_0_9_raise_her_72_27_cm() -> None:
    ship = floating_by_tpc([5.0, 20.0], [0.9 * BOX_TPC] * 2, displacement_t=50_000.0)
    full = ship.displacement(15.0, 1025.0)
    assert 15.0 - ship.draught(np.array([full - 1e7]), 1025.0)[0] == pytest.approx(0.7227, abs=5e-5)


def test_box_in_fresh_water_has_150_tonnes_per_centimetre() -> None:
    ship = floating_by_displacement(*box())
    deep, less = ship.displacement(12.0, 1000.0), ship.displacement(11.99, 1000.0)
    assert (deep - less) / 1000.0 == pytest.approx(150.0, rel=1e-9)


@pytest.mark.parametrize(("draught", "tpc"), [(3.2, 8.20), (3.7, 8.78), (4.3, 9.68)])
def test_table_of_the_book(draught: float, tpc: float) -> None:
    ship = floating_by_tpc(BOOK_DRAUGHT, BOOK_TPC, displacement_t=2000.0)
    rise = ship.displacement(draught + 0.005, 1025.0) - ship.displacement(draught - 0.005, 1025.0)
    assert rise / 1000.0 == pytest.approx(tpc, abs=0.006)


def test_weight_at_the_first_draught_does_not_change_how_far_she_rises() -> None:
    known = floating_by_tpc(BOOK_DRAUGHT, BOOK_TPC, displacement_t=2000.0)
    unknown = floating_by_tpc(BOOK_DRAUGHT, BOOK_TPC)
    for ship in (known, unknown):
        start = ship.displacement(4.4, 1010.0)
        assert ship.draught(np.array([start - 500e3]), 1010.0)[0] == pytest.approx(3.864, abs=5e-3)


def test_array_equals_scalar_and_outside_is_not_a_number() -> None:
    ship = floating_by_displacement(*box())
    weights = np.array([4e7, 1e8, 2.9e8, 1.0, 1e9])
    found = ship.draught(weights, 1025.0)
    np.testing.assert_array_equal(found, [ship.draught(np.array([one]), 1025.0)[0] for one in weights])
    assert np.isnan(found[3:]).all()
    assert np.isfinite(found[:3]).all()


@pytest.mark.parametrize(
    ("draughts", "tpc", "words"),
    [
        ([3.0, 2.0], [8.0, 8.0], "2 m stands after 3 m"),
        ([3.0, 4.0], [8.0, -1.0], "-1 t/cm"),
        ([3.0, 4.0], [8.0], "one"),
    ],
)
def test_refusals(draughts: list[float], tpc: list[float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        floating_by_tpc(draughts, tpc)
    with pytest.raises(InputError, match=r"allowed: 2 to 20 m"):
        floating_by_displacement(*box()).displacement(1.0, 1025.0)
