"""What a restored database is proved by: every plan by the code that verifies it anywhere, and the trail beside it."""

from __future__ import annotations

import pytest

from compat.accord.models import Accord, Plan, Signature
from compat.accord.states import State
from compat.running.proving import everything_wrong
from shared.models import Person
from shared.trail import trail_head
from tests.compat.accord.building import bring_to


@pytest.fixture
def accord(ship_officer: Person, terminal_officer: Person, whole_plans: None) -> Accord:
    return bring_to(State.IN_FORCE, ship_officer, terminal_officer)


def wrong() -> list[str]:
    rows, head = trail_head()
    return list(everything_wrong(rows=rows, head=head))


def changed(data: bytes | memoryview | None, place: int) -> bytes:
    found = bytearray(bytes(data or b""))
    found[place] ^= 1
    return bytes(found)


def test_an_untouched_database_is_proved(accord: Accord) -> None:
    assert wrong() == []


@pytest.mark.parametrize(("field", "place"), [("payload", 3000), ("signatures", 700), ("pdf", 20_000)])
def test_one_changed_bit_of_a_plan_is_told(field: str, place: int, accord: Accord) -> None:
    plan = Plan.objects.get()
    Plan.objects.update(**{field: changed(getattr(plan, field), place)})
    [sentence] = wrong()
    assert "does not hold" in sentence


def test_a_plan_that_is_gone_is_missed_by_the_trail(accord: Accord) -> None:
    sha256 = Plan.objects.get().sha256
    Plan.objects.all().delete()
    [sentence] = wrong()
    assert f"a plan with the SHA-256 {sha256}, which is missing" in sentence


def test_a_plan_under_another_hash_is_told(accord: Accord) -> None:
    Plan.objects.update(sha256="0" * 64)
    assert any("the trail tells of no such plan" in sentence for sentence in wrong())
    assert any("does not hold" in sentence for sentence in wrong())


def test_a_text_that_one_side_has_signed_is_proved_too(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SIGNED_BY_SHIP, ship_officer, terminal_officer)
    assert wrong() == []
    signature = Signature.objects.get()
    Signature.objects.update(cms=changed(signature.cms, 700))
    assert "does not hold" in wrong()[0]
    Signature.objects.update(cms=signature.cms)
    Accord.objects.filter(pk=accord.pk).update(payload=changed(accord.payload, 3000))
    assert "its settled text was changed" in wrong()[0]


def test_rows_cut_off_the_end_are_missed_by_whoever_noted_them(accord: Accord) -> None:
    rows, _ = trail_head()
    assert any("is not the one that was copied" in one for one in everything_wrong(rows=rows + 1, head="f" * 64))
