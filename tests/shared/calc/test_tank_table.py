"""Tank tables: a box and a cone-shaped tank whose volumes are known, trim, and refusals in sentences."""

from __future__ import annotations

import numpy as np
import pytest

from shared.calc.errors import InputError
from shared.calc.tank_table import tank_table, ullage_table

BOX = tank_table([0.0, 5.0, 18.0], [0.0, 1000.0, 3600.0])


def test_box_between_and_at_entries() -> None:
    levels = np.array([0.0, 2.5, 5.0, 10.0, 18.0])
    np.testing.assert_allclose(BOX.volume(levels), 200.0 * levels, rtol=1e-14)
    np.testing.assert_allclose(BOX.level(BOX.volume(levels)), levels, rtol=1e-14)
    assert BOX.capacity_m3 == 3600.0


def test_array_gives_what_single_numbers_give() -> None:
    volumes = np.array([10.0, 900.0, 3599.0])
    np.testing.assert_array_equal(BOX.level(volumes), [float(BOX.level(float(volume))) for volume in volumes])


def test_level_that_rises_with_the_square_root_is_met_between_close_entries() -> None:
    """A wedge of 10 m by 2 m slope holds 5 h² m³: a table every 0.1 m is off by at most 5 * 0.05² m³."""
    levels = np.arange(0.0, 10.01, 0.1)
    wedge = tank_table(levels.tolist(), (5.0 * levels**2).tolist())
    between = np.linspace(0.0, 10.0, 997)
    assert np.abs(wedge.volume(between) - 5.0 * between**2).max() <= 5.0 * 0.05**2 * 1.0001


def test_ullages_turn_into_levels() -> None:
    table = ullage_table(20.0, [2.0, 20.0, 15.0], [3600.0, 0.0, 1000.0])
    np.testing.assert_allclose(table.level_m, [0.0, 5.0, 18.0])
    np.testing.assert_allclose(table.volume_m3, [0.0, 1000.0, 3600.0])


def test_trim_correction_goes_straight_between_the_trims() -> None:
    table = tank_table([0.0, 10.0], [0.0, 500.0], [0.0, 1.0, 3.0], [0.0, -0.10, -0.24])
    assert table.corrected_level(8.0, 2.0) == pytest.approx(7.83)
    assert table.corrected_level(8.0, 0.0) == 8.0


@pytest.mark.parametrize(
    ("levels", "volumes", "words"),
    [
        ([0.0, 2.0, 1.0], [0.0, 10.0, 20.0], "1 m stands after 2 m"),
        ([0.0, 1.0, 2.0], [0.0, 20.0, 20.0], "does not rise from 20 m³ at 1 m to 20 m³ at 2 m"),
        ([0.0], [0.0], "1 entries"),
        ([0.0, 1.0], [-1.0, 20.0], "starts at -1 m³"),
        ([0.0, 1.0], [1.0], "one volume for each level"),
    ],
)
def test_tables_that_are_refused(levels: list[float], volumes: list[float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        tank_table(levels, volumes)


def test_a_level_outside_is_refused_with_the_range() -> None:
    with pytest.raises(InputError, match=r"level 18\.4 m is outside the table; allowed: 0 to 18 m"):
        BOX.volume(18.4)
    with pytest.raises(InputError, match="no trim correction"):
        BOX.corrected_level(3.0, 1.5)
