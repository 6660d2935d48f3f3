"""The table in numbers: order, filters, what changed, and how quickly ten thousand rows are there."""

from __future__ import annotations

import io
from dataclasses import fields, replace

import numpy as np
import pytest

from compat.calc.fit.verdicts import AGREE, OUTSIDE, UNDECIDED, WITHIN
from compat.case.binding_arrays import KINDS, NONE, PLACES
from compat.fit.catalogue import CHECKS
from compat.screening.comparing import Run, changes_between
from compat.screening.results import Results, empty, from_bytes, joined
from compat.screening.table import LIMIT_WORDS, SORTS, filtered, limit_word, ordered, rows_of


def results(rates: list[float], verdicts: list[int]) -> Results:
    size = len(rates)
    return replace(
        empty(size),
        ship=np.arange(size),
        rate_m3_per_h=np.array(rates),
        verdict=np.array(verdicts),
        binding=np.full(size, NONE),
    )


def test_what_fits_comes_first_and_the_highest_rate_first_within_that() -> None:
    made = results([5.0, 9.0, np.nan, 7.0, 8.0], [OUTSIDE, WITHIN, WITHIN, AGREE, UNDECIDED])
    assert ordered(made, np.arange(5), "").tolist() == [1, 2, 3, 4, 0]


@pytest.mark.parametrize("sort", [*SORTS, *(f"-{name}" for name in SORTS)])
def test_every_column_sorts_both_ways_and_no_row_is_lost(sort: str) -> None:
    made = results([5.0, 9.0, np.nan, 7.0], [OUTSIDE, WITHIN, WITHIN, AGREE])
    assert sorted(ordered(made, np.arange(4), sort).tolist()) == [0, 1, 2, 3]


def test_what_has_no_rate_comes_last_either_way() -> None:
    made = results([5.0, np.nan, 7.0], [1, 1, 1])
    assert ordered(made, np.arange(3), "rate").tolist() == [0, 2, 1]
    assert ordered(made, np.arange(3), "-rate").tolist() == [2, 0, 1]


def test_filters_by_rate_and_by_what_binds() -> None:
    made = results([5.0, np.nan, 7.0], [1, 1, 1])
    made = replace(made, binding=np.array([PLACES * KINDS.index("arm-velocity") + 1, NONE, NONE]))
    assert filtered(made, {"rate": "without"}).tolist() == [1]
    assert filtered(made, {"limit": str(KINDS.index("arm-velocity"))}).tolist() == [0]
    assert rows_of(made, [0], ["A"], ["B"], ["C"])[0].limit == "velocity in an arm or hose"


def test_every_kind_of_limit_has_words() -> None:
    assert set(LIMIT_WORDS) == set(KINDS)
    assert limit_word(NONE) == ""


def test_columns_come_back_from_their_file_as_they_were() -> None:
    made = results([5.0, np.nan], [1, 4])
    again = from_bytes(made.to_bytes())
    assert np.array_equal(again.rate_m3_per_h, made.rate_m3_per_h, equal_nan=True)
    assert len(joined([again, made])) == 4
    assert len(joined([])) == 0


def test_a_file_of_an_earlier_version_lacks_what_was_not_kept_then() -> None:
    made = results([5.0, np.nan], [1, 4])
    file = io.BytesIO()
    earlier = {one.name for one in fields(Results)} - {"open_checks", "doubt"}
    np.savez_compressed(file, **{name: getattr(made, name) for name in earlier})
    again = from_bytes(file.getvalue())
    assert again.doubt.tolist() == again.open_checks.tolist() == [0, 0]
    assert again.verdict.tolist() == [1, 4]


def test_every_check_has_a_bit() -> None:
    assert len(CHECKS) < 63


def test_filters_by_least_rate_most_hours_and_doubt() -> None:
    made = replace(results([5.0, np.nan, 7.0], [1, 1, 1]), hours=np.array([20.0, np.nan, 10.0]))
    made = replace(made, doubt=np.array([0, 1, 2], dtype=np.int8))
    assert filtered(made, {"least_rate": "7"}).tolist() == [2]
    assert filtered(made, {"most_hours": "20"}).tolist() == [0, 2]
    assert filtered(made, {"doubt": "with"}).tolist() == [1, 2]
    assert filtered(made, {"doubt": "without"}).tolist() == [0]
    assert [row.doubted for row in rows_of(made, [0, 1, 2], ["A"] * 3, ["B"], ["C"])] == ["", "the fit", "the rate"]


def test_changes_are_found_by_ship_berth_and_cargo_and_not_by_place() -> None:
    before = Run(results([5.0, 9.0, 3.0], [1, 1, 1]), [11, 12, 13], [1], ["Oil"])
    after = Run(results([9.0, 5.2, 4.0], [4, 1, 1]), [12, 11, 14], [1], ["Oil"])
    found = changes_between(before, after)
    assert [(change.kind, change.fit_before, change.fit_after) for change in found] == [
        ("changed", "within", "outside"),
        ("new", "", "within"),
        ("gone", "within", ""),
    ]
