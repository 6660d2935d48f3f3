"""Second factors: time codes as RFC 6238 has them, recovery codes, passkeys as rows, and who may take them off."""

from __future__ import annotations

import base64
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pyotp
import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from shared import factors
from shared.factor_models import Passkey, RecoveryCode, TimeCode
from shared.models import Person, TrailRow
from shared.own_secrets import PeopleError
from shared.passkeys import NewKey
from shared.permissions import NotAllowedError
from shared.sealing import SealBrokenError, seal, unseal
from shared.trail import facts_of
from tests.builders import NOW
from tests.reference_tables import reference_rows

ClientOf = Callable[[Person | None], Client]
SECRET_32 = base64.b32encode(b"12345678901234567890").decode()


def code_at(when: datetime, secret: str = SECRET_32) -> str:
    return pyotp.TOTP(secret).at(when)


def set_up(person: Person, now: datetime = NOW) -> list[str]:
    return factors.set_up_time_codes(by=person, now=now, secret=SECRET_32, code=code_at(now))


def key_of(person: Person, number: int = 1) -> Passkey:
    factors.add_passkey(
        by=person, now=NOW, key=NewKey(bytes([number]) * 16, b"public", 0), name=f"Key {number}", host="localhost"
    )
    return Passkey.objects.get(person=person, name=f"Key {number}")


@pytest.mark.parametrize("row", reference_rows("rfc_6238_time_codes"), ids=lambda row: row["unix_time_s"])
def test_the_codes_of_the_rfc_are_taken(row: dict[str, str], ship_officer: Person) -> None:
    moment = datetime.fromtimestamp(int(row["unix_time_s"]), UTC)
    codes = factors.set_up_time_codes(
        by=ship_officer, now=moment, secret=SECRET_32, code=row["code_of_eight_digits"][-6:]
    )
    assert len(set(codes)) == factors.CODES_ON_A_LIST
    assert TimeCode.objects.get().last_step == int(row["unix_time_s"]) // 30


@pytest.mark.parametrize(("seconds_off", "fits"), [(-60, False), (-30, True), (0, True), (30, True), (60, False)])
def test_a_clock_may_be_one_step_off(seconds_off: int, fits: bool, ship_officer: Person) -> None:
    set_up(ship_officer, NOW - timedelta(days=1))
    typed = code_at(NOW + timedelta(seconds=seconds_off))
    assert factors.takes_code(person=ship_officer, now=NOW, code=typed) is fits


def test_a_code_is_good_once_and_none_before_it(ship_officer: Person) -> None:
    set_up(ship_officer, NOW - timedelta(days=1))
    assert factors.takes_code(person=ship_officer, now=NOW, code=code_at(NOW))
    assert not factors.takes_code(person=ship_officer, now=NOW, code=code_at(NOW))
    assert not factors.takes_code(person=ship_officer, now=NOW, code=code_at(NOW - timedelta(seconds=30)))
    later = NOW + timedelta(seconds=30)
    spaced = f"{code_at(later)[:3]} {code_at(later)[3:]}"
    assert factors.takes_code(person=ship_officer, now=later, code=spaced)


def test_the_code_with_which_it_was_set_up_is_used_up(ship_officer: Person) -> None:
    set_up(ship_officer)
    assert not factors.takes_code(person=ship_officer, now=NOW, code=code_at(NOW))


def test_a_wrong_first_code_sets_nothing_up(ship_officer: Person) -> None:
    with pytest.raises(PeopleError, match="does not fit"):
        factors.set_up_time_codes(by=ship_officer, now=NOW, secret=SECRET_32, code="000000")
    assert not factors.has_second_factor(ship_officer)


def test_the_secret_of_time_codes_is_not_readable_in_the_database(ship_officer: Person) -> None:
    set_up(ship_officer)
    assert SECRET_32 not in str(TimeCode.objects.values().get())


def test_what_is_sealed_opens_only_under_the_same_key(settings: object) -> None:
    sealed = seal("tide")
    assert unseal(sealed) == "tide"
    with pytest.raises(SealBrokenError):
        unseal(sealed[:-6] + ("A" if sealed[-6] != "A" else "B") + sealed[-5:])
    settings.SECRET_KEY = "another-key"  # type: ignore[attr-defined]
    with pytest.raises(SealBrokenError, match="set it up anew"):
        unseal(sealed)


def test_each_recovery_code_is_good_once(ship_officer: Person, ship_admin: Person) -> None:
    codes = set_up(ship_officer)
    others = set_up(ship_admin)
    assert factors.takes_code(person=ship_officer, now=NOW, code=codes[3].upper().replace("-", " "))
    assert not factors.takes_code(person=ship_officer, now=NOW, code=codes[3])
    assert not factors.takes_code(person=ship_officer, now=NOW, code=others[0])
    row = TrailRow.objects.latest("position")
    assert (row.act, facts_of(row)) == ("recovery code used", {"left": 9})
    stored = str(list(RecoveryCode.objects.values()))
    assert not any(code in stored or code.replace("-", "") in stored for code in codes)


def test_a_new_list_ends_the_old_one(ship_officer: Person) -> None:
    old = set_up(ship_officer)
    new = factors.make_recovery_codes(by=ship_officer, now=NOW)
    assert not factors.takes_code(person=ship_officer, now=NOW, code=old[0])
    assert factors.takes_code(person=ship_officer, now=NOW, code=new[0])


def test_no_list_without_a_factor(ship_officer: Person) -> None:
    with pytest.raises(PeopleError, match="set one up first"):
        factors.make_recovery_codes(by=ship_officer, now=NOW)


def test_only_the_first_factor_brings_recovery_codes(ship_officer: Person) -> None:
    assert set_up(ship_officer)
    key = NewKey(b"a" * 16, b"public", 0)
    assert factors.add_passkey(by=ship_officer, now=NOW, key=key, name="Bridge", host="localhost") == []
    with pytest.raises(PeopleError, match="known here already"):
        factors.add_passkey(by=ship_officer, now=NOW, key=key, name="Bridge again", host="localhost")
    with pytest.raises(PeopleError, match="allowed: 1 to 60"):
        factors.add_passkey(by=ship_officer, now=NOW, key=NewKey(b"b" * 16, b"p", 0), name=" ", host="localhost")


def test_the_last_factor_stays_while_it_is_asked_for(ship_admin: Person) -> None:
    assert ship_admin.organisation is not None
    organisation = ship_admin.organisation
    factors.require_second_factor(by=ship_admin, now=NOW, organisation=organisation, required=True)
    first, second = key_of(ship_admin, 1), key_of(ship_admin, 2)
    factors.remove_passkey(by=ship_admin, now=NOW, passkey=first)
    with pytest.raises(PeopleError, match="add another one before"):
        factors.remove_passkey(by=ship_admin, now=NOW, passkey=second)
    assert Passkey.objects.filter(person=ship_admin).count() == 1
    factors.require_second_factor(by=ship_admin, now=NOW, organisation=organisation, required=False)
    with pytest.raises(PeopleError, match="does not ask for a second factor already"):
        factors.require_second_factor(by=ship_admin, now=NOW, organisation=organisation, required=False)
    factors.remove_passkey(by=ship_admin, now=NOW, passkey=Passkey.objects.get(name="Key 2"))
    assert not RecoveryCode.objects.filter(person=ship_admin).exists()
    with pytest.raises(PeopleError, match="no time codes to remove"):
        factors.remove_time_codes(by=ship_admin, now=NOW)


def test_nobody_removes_anothers_passkey(ship_officer: Person, ship_admin: Person) -> None:
    with pytest.raises(PeopleError, match="somebody else's"):
        factors.remove_passkey(by=ship_admin, now=NOW, passkey=key_of(ship_officer))


@pytest.mark.parametrize("who", ["ship_officer", "ship_reader", "terminal_admin", "auditor", "stranger"])
def test_who_asks_an_organisation_for_nothing(who: str, ship_admin: Person, request: pytest.FixtureRequest) -> None:
    assert ship_admin.organisation is not None
    by = request.getfixturevalue(who)
    with pytest.raises(NotAllowedError):
        factors.require_second_factor(by=by, now=NOW, organisation=ship_admin.organisation, required=True)


@pytest.mark.parametrize(
    ("who", "allowed"),
    [
        ("ship_admin", True),
        ("installation_admin", True),
        ("ship_officer", False),
        ("ship_reader", False),
        ("terminal_admin", False),
        ("stranger", False),
    ],
)
def test_who_takes_a_lost_factor_off(
    who: str, allowed: bool, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    lost = request.getfixturevalue("ship_reader" if who != "ship_reader" else "ship_officer")
    set_up(lost)
    client = client_of(lost)
    by = request.getfixturevalue(who)
    if not allowed:
        with pytest.raises(NotAllowedError):
            factors.reset_second_factor(by=by, now=NOW, person=lost)
        assert factors.has_second_factor(lost)
        return
    factors.reset_second_factor(by=by, now=NOW, person=lost)
    assert not factors.has_second_factor(lost)
    assert not RecoveryCode.objects.filter(person=lost).exists()
    assert client.get(reverse("home")).status_code == 302


def test_one_does_not_reset_oneself(ship_admin: Person) -> None:
    set_up(ship_admin)
    with pytest.raises(PeopleError, match="your secret is asked for"):
        factors.reset_second_factor(by=ship_admin, now=NOW, person=ship_admin)


def test_the_command_for_when_nobody_else_can(ship_admin: Person, capsys: pytest.CaptureFixture[str]) -> None:
    set_up(ship_admin)
    call_command("reset_second_factor", "ship-admin")
    assert "signs in with the secret alone now" in capsys.readouterr().out
    assert not factors.has_second_factor(ship_admin)
    assert TrailRow.objects.latest("position").person == "Berth Accord"
    with pytest.raises(CommandError, match="Nobody signs in as nobody"):
        call_command("reset_second_factor", "nobody")


@pytest.mark.parametrize("act", ["set up", "remove"])
def test_a_change_of_factors_ends_sessions(act: str, ship_officer: Person, client_of: ClientOf) -> None:
    set_up(ship_officer)
    client = client_of(ship_officer)
    if act == "set up":
        key_of(ship_officer)
    else:
        factors.remove_time_codes(by=ship_officer, now=NOW)
    assert client.get(reverse("home")).status_code == 302
