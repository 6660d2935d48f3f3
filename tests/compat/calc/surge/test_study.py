"""Searches for the shortest time and the highest flow, on plain functions whose answer is known."""

import pytest

from compat.calc.surge.study import Margins, confirmed_closing, highest_flow, shortest_closing


@pytest.mark.parametrize("needed", [1, 2, 7, 8, 9, 30, 113, 600])
@pytest.mark.parametrize("starts_at", [1, 8, 60, 600])
def test_shortest_time_is_found_from_anywhere(needed, starts_at):
    assert shortest_closing(lambda seconds: seconds >= needed, starts_at) == needed


def test_no_time_is_an_answer():
    assert shortest_closing(lambda _: False) is None


def test_a_longer_time_that_fails_again_moves_the_answer_up():
    assert shortest_closing(lambda seconds: seconds >= 20 and not 26 <= seconds <= 29) == 30


@pytest.mark.parametrize("near", [1, 20, 31, 40, 45, 200])
@pytest.mark.parametrize("needed", [1, 31, 40, 90])
def test_a_time_near_it_is_confirmed_to_the_second(near, needed):
    assert confirmed_closing(near, lambda seconds: seconds >= needed) == needed


def test_nothing_is_confirmed_where_no_time_passes():
    assert confirmed_closing(550, lambda _: False) is None


@pytest.mark.parametrize("power", [1.0, 0.5, 2.0, 6.0])
@pytest.mark.parametrize("allowed", [0.05, 0.4, 0.97])
def test_highest_flow_is_found_with_few_questions(power, allowed):
    asked = []

    def margin(flow):
        asked.append(flow)
        return allowed**power - flow**power

    found = highest_flow(margin, 0.02, 1.0)
    assert 0.0 <= allowed - found <= 0.005
    assert len(asked) <= 24


def test_verdict_puts_a_passed_rating_first():
    assert Margins(1.0, 1.0).verdict == "kept"
    assert Margins(1.0, -1.0).verdict == "boils"
    assert Margins(-1.0, -1.0).verdict == "exceeded"
    assert Margins(3.0, 2.0).least_m == 2.0
