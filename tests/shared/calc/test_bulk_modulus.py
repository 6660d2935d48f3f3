"""A stated bulk modulus is kept, compared, and never filled in."""

import numpy as np
import pytest

from shared.calc.bulk_modulus import TYPICAL_BULK_MODULUS_PA, stated_bulk_modulus
from shared.calc.errors import InputError, OutOfRangeError
from tests.array_checks import check_array_answer


def test_a_usual_value_passes_without_a_note() -> None:
    answer = stated_bulk_modulus(1.5e9, "crude oil")
    assert answer.bulk_modulus_pa == 1.5e9
    assert answer.typical
    assert not answer.note


def test_an_unusual_value_is_kept_and_noted() -> None:
    answer = stated_bulk_modulus(np.array([1.0e9, 1.8e9]), "gasoline")
    assert answer.bulk_modulus_pa.tolist() == [1.0e9, 1.8e9]
    assert answer.typical.tolist() == [True, False]
    assert "outside the usual 0.9 to 1.5 GPa of gasoline" in answer.note


def test_typical_ranges_hold_values_published_elsewhere() -> None:
    # A public engineering reference site: petrol 1.07 to 1.49 GPa. Water at 20 °C, 2.18 GPa: any hydraulics text.
    for liquid, value in (("gasoline", 1.07e9), ("gasoline", 1.49e9), ("water", 2.18e9)):
        assert stated_bulk_modulus(value, liquid).typical


def test_array_answers() -> None:
    check_array_answer(lambda k: stated_bulk_modulus(k, "water").bulk_modulus_pa, [1e9, 2e9])


def test_nothing_is_filled_in_and_wrong_input_is_refused() -> None:
    with pytest.raises(InputError, match="No typical bulk modulus is known for “naphtha”; use one of crude oil"):
        stated_bulk_modulus(1e9, "naphtha")
    with pytest.raises(OutOfRangeError, match="Bulk modulus is 15 MPa; allowed: 300 to 4,000 MPa"):
        stated_bulk_modulus(15e6, "crude oil")
    for least, greatest in TYPICAL_BULK_MODULUS_PA.values():
        assert 0.3e9 < least < greatest < 4e9
