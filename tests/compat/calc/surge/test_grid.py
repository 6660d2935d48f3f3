"""Whole reaches at Courant's number 1, and runs that no grid fits."""

import numpy as np
import pytest

from compat.calc.surge.grid import fitted_grid, make_grid
from shared.calc.errors import InputError, OutOfRangeError
from tests.compat.calc.surge.lines import run

RUNS = [run(93.0, 0.5, 1130.0), run(25.0, 0.35, 1210.0), run(3317.0, 0.6, 1075.0)]


def test_wave_crosses_each_reach_in_one_step_and_speeds_change_by_less_than_2_percent():
    grid = fitted_grid(RUNS, 300)
    reach_m = np.array([run.length_m / n for run, n in zip(RUNS, grid.reaches, strict=True)])
    assert grid.wave_speeds_m_per_s * grid.step_s == pytest.approx(reach_m)
    assert 0.0 <= grid.adjustment < 0.02
    assert sum(grid.reaches) >= 290


def test_nodes_lie_along_the_whole_line():
    grid = fitted_grid(RUNS, 300)
    assert grid.distance_m[0] == 0.0
    assert grid.distance_m[-1] == pytest.approx(93.0 + 25.0 + 3317.0)
    assert (np.diff(grid.distance_m) >= 0.0).all()
    assert grid.nodes == grid.distance_m.size == sum(grid.reaches) + len(RUNS)


def test_adjustment_is_told_where_the_step_is_given():
    grid = make_grid([run(1000.0, 0.5, 1000.0), run(104.0, 0.5, 1000.0)], 0.01)
    assert grid.reaches == (100, 10)
    assert grid.adjustment == pytest.approx(0.04)


def test_run_shorter_than_the_grid_is_refused():
    with pytest.raises(InputError, match=r"3\.0 is 3 m long, shorter than the grid of 10 m; choose a finer grid"):
        make_grid([run(1000.0, 0.5, 1000.0), run(3.0, 0.5, 1000.0)], 0.01)


def test_no_run_and_no_length_are_refused():
    with pytest.raises(InputError, match="no pipe run"):
        make_grid([], 0.01)
    with pytest.raises(InputError, match="no length"):
        fitted_grid([run(0.0, 0.5, 1000.0)], 100)


def test_wave_speed_outside_its_range_is_refused():
    with pytest.raises(OutOfRangeError, match="allowed: 100 to 1,500 m/s"):
        make_grid([run(1000.0, 0.5, 1600.0)], 0.01)


def test_too_many_reaches_are_refused():
    with pytest.raises(InputError, match="allowed: 20,000"):
        make_grid([run(100_000.0, 0.5, 1000.0)], 0.001)
    with pytest.raises(InputError, match="join it to its neighbour"):
        fitted_grid([run(150_000.0, 0.5, 1000.0), run(1.0, 0.5, 1000.0)], 100)
