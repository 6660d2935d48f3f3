"""The gatekeeper of numbers: what passes, and the sentence where it does not."""

import numpy as np
import pytest

from shared.calc.errors import OutOfRangeError
from shared.calc.ranges import checked


def test_a_value_on_the_limit_passes_although_its_conversion_is_not_exact() -> None:
    for limit_c in (-18.0, 37.8, 150.0):
        assert checked("Temperature", limit_c + 273.15, "°C", limit_c, limit_c) == limit_c + 273.15


def test_a_wide_range_is_as_strict_at_its_low_end() -> None:
    with pytest.raises(OutOfRangeError, match=r"Viscosity is 0.20999 mm²/s; allowed: 0.21 to 20,000,000 mm²/s"):
        checked("Viscosity", 0.20999e-6, "mm²/s", 0.21, 2e7)


def test_the_sentence_names_value_unit_range_and_advice() -> None:
    with pytest.raises(OutOfRangeError) as caught:
        checked("Viscosity", 5e-3, "mm²/s", 0.1, 4000.0, "Ask for another.")
    assert str(caught.value) == "Viscosity is 5,000 mm²/s; allowed: 0.1 to 4,000 mm²/s. Ask for another."


def test_a_number_without_unit_is_shown_without_one() -> None:
    with pytest.raises(OutOfRangeError, match=r"^Ratio is 3; allowed: 0 to 2\.$"):
        checked("Ratio", 3.0, "1", 0.0, 2.0)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_value_that_is_not_finite_is_refused(value: float) -> None:
    with pytest.raises(OutOfRangeError, match="not a finite number; allowed: 0 to 1 m"):
        checked("Length", value, "m", 0.0, 1.0)


def test_the_first_wrong_value_of_an_array_is_named() -> None:
    with pytest.raises(OutOfRangeError, match="Length is 7 m"):
        checked("Length", np.array([0.5, 7.0, 9.0]), "m", 0.0, 1.0)


def test_the_answer_is_a_copy() -> None:
    given = np.array([0.5, 0.7])
    assert not np.shares_memory(checked("Length", given, "m", 0.0, 1.0), given)
