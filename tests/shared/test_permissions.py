"""Each rule as a check and as a question, over the whole cast."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shared.models import Organisation, Person
from shared.permissions import (
    NotAllowedError,
    acts_for,
    administers,
    check_acts_for,
    check_administrator,
    check_member,
    check_runs_installation,
    is_member,
    runs_installation,
)

#                     member, acts, administers, runs the installation
CAST = {
    "ship_admin": (True, True, True, False),
    "ship_officer": (True, True, False, False),
    "ship_reader": (True, False, False, False),
    "terminal_admin": (False, False, False, False),
    "terminal_officer": (False, False, False, False),
    "auditor": (False, False, False, False),
    "stranger": (False, False, False, False),
    "installation_admin": (False, False, False, True),
}
RULES: list[tuple[Callable[[Person, Organisation], bool], Callable[[Person, Organisation], None]]] = [
    (is_member, check_member),
    (acts_for, check_acts_for),
    (administers, check_administrator),
]


def passes(check: Callable[..., None], *arguments: object) -> bool:
    try:
        check(*arguments)
    except NotAllowedError:
        return False
    return True


@pytest.mark.parametrize("who", CAST)
def test_questions_and_checks_say_the_same(who: str, request: pytest.FixtureRequest, ship_officer: Person) -> None:
    organisation = ship_officer.organisation
    assert organisation is not None
    person = request.getfixturevalue(who)
    questions = [question(person, organisation) for question, _ in RULES] + [runs_installation(person)]
    checks = [passes(check, person, organisation) for _, check in RULES]
    checks.append(passes(check_runs_installation, person))
    assert tuple(questions) == tuple(checks) == CAST[who]


@pytest.mark.parametrize("who", ["ship_admin", "ship_officer", "ship_reader", "installation_admin"])
def test_a_closed_access_passes_no_check(who: str, request: pytest.FixtureRequest, ship_officer: Person) -> None:
    organisation = ship_officer.organisation
    assert organisation is not None
    person = request.getfixturevalue(who)
    person.is_active = False
    assert not any(question(person, organisation) for question, _ in RULES)
    assert not runs_installation(person)
