"""A person's signing key: made with consent, opened by their secret alone, sealed anew with a new secret."""

from __future__ import annotations

from datetime import timedelta

import pytest
from cryptography import x509

from compat.accord import actions
from compat.accord.keys import KeyNeededError, OpenedKey, authority, open_key, usable_key
from compat.accord.models import Accord, PersonKey, Plan, Signature
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.states import State
from compat.accord.verifying import verify_data
from shared.actions import change_own_secret, deactivate_person, renew_secret
from shared.authority import PERSON_YEARS
from shared.key_sealing import SealedKeyError, open_sealed
from shared.models import Person, TrailRow
from shared.trail import ClockError, facts_of
from tests.builders import NOW, SECRET
from tests.compat.accord.building import bring_to, sign

NEW_SECRET = "spring-tide-and-lanterns"
FIRM = "Halvard Tankers"


def opened(person: Person, *, secret: str = SECRET, consents: bool = True, years: float = 0) -> OpenedKey:
    now = NOW + timedelta(days=365.25 * years)
    return open_key(by=person, now=now, organisation=FIRM, secret=secret, consents=consents)


def test_a_key_is_made_once_with_consent_and_the_trail_names_its_certificate(ship_officer: Person) -> None:
    with pytest.raises(KeyNeededError, match="nothing was signed"):
        opened(ship_officer, consents=False)
    assert not PersonKey.objects.exists()
    first = opened(ship_officer)
    assert opened(ship_officer, consents=False).certificate == first.certificate
    row = TrailRow.objects.get(act="signing key made")
    assert facts_of(row)["certificate_sha256"] == first.certificate_sha256 == PersonKey.objects.get().certificate_sha256
    first.certificate.verify_directly_issued_by(authority().certificate)
    assert first.certificate.subject.rfc4514_string() == "UID=ship-officer,CN=Ingrid Solheim,O=Halvard Tankers"


def test_what_the_server_keeps_does_not_open_without_the_secret(ship_officer: Person) -> None:
    opened(ship_officer)
    sealed = bytes(PersonKey.objects.get().sealed or b"")
    assert open_sealed(sealed, SECRET, ship_officer.subject)
    for secret in ("", ship_officer.password, SECRET.upper()):
        with pytest.raises(SealedKeyError):
            open_sealed(sealed, secret, ship_officer.subject)


def test_a_changed_secret_seals_the_same_key_anew(ship_officer: Person) -> None:
    first = opened(ship_officer)
    before = bytes(PersonKey.objects.get().sealed or b"")
    change_own_secret(by=ship_officer, now=NOW, present=SECRET, secret=NEW_SECRET)
    assert bytes(PersonKey.objects.get().sealed or b"") != before
    again = opened(ship_officer, secret=NEW_SECRET, consents=False)
    assert again.private.private_numbers() == first.private.private_numbers()
    with pytest.raises(SealedKeyError):
        open_sealed(bytes(PersonKey.objects.get().sealed or b""), SECRET, ship_officer.subject)


def test_a_lost_secret_closes_the_key_for_good_and_the_next_needs_consent_again(
    ship_officer: Person, ship_admin: Person
) -> None:
    first = opened(ship_officer)
    renew_secret(by=ship_admin, now=NOW, person=ship_officer, secret=NEW_SECRET)
    assert PersonKey.objects.get().sealed is None
    assert usable_key(ship_officer, FIRM, NOW) is None
    with pytest.raises(KeyNeededError):
        opened(ship_officer, secret=NEW_SECRET, consents=False)
    assert opened(ship_officer, secret=NEW_SECRET).certificate != first.certificate
    assert PersonKey.objects.count() == 2


def test_a_secret_set_behind_the_programs_back_closes_the_key(ship_officer: Person) -> None:
    opened(ship_officer)
    ship_officer.set_password(NEW_SECRET)
    ship_officer.save()
    with pytest.raises(KeyNeededError):
        opened(ship_officer, secret=NEW_SECRET, consents=False)
    assert PersonKey.objects.get().sealed is None


@pytest.mark.parametrize("why", ["another name", "another organisation", "run out"])
def test_a_key_that_no_longer_fits_is_replaced(why: str, ship_officer: Person) -> None:
    first = opened(ship_officer)
    if why == "another name":
        ship_officer.full_name = "Ingrid Solheim-Berg"
        ship_officer.save()
    organisation = "Corvane Shipping" if why == "another organisation" else FIRM
    now = NOW + timedelta(days=366 * PERSON_YEARS) if why == "run out" else NOW
    assert usable_key(ship_officer, organisation, now) is None
    second = open_key(by=ship_officer, now=now, organisation=organisation, secret=SECRET, consents=True)
    assert second.certificate != first.certificate
    assert PersonKey.objects.filter(sealed__isnull=False).count() == 1


def test_signing_without_consent_signs_nothing(ship_officer: Person, terminal_officer: Person) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    seen = accord.payload_sha256
    with pytest.raises(KeyNeededError):
        actions.sign(by=ship_officer, now=NOW, accord=accord, secret=SECRET, title="Master", seen_sha256=seen)
    assert not Signature.objects.exists()


def test_the_signature_of_a_removed_member_still_verifies(
    ship_officer: Person, ship_admin: Person, terminal_officer: Person, whole_plans: None
) -> None:
    plan = Plan.objects.get(accord=bring_to(State.IN_FORCE, ship_officer, terminal_officer))
    deactivate_person(by=ship_admin, now=NOW, person=ship_officer)
    certificate = authority().certificate
    assert verify_data(bytes(plan.payload), bytes(plan.signatures or b""), certificate).holds
    verdict = verify_pdf(bytes(plan.pdf or b""), certificate)
    assert verdict.holds, verdict.sentences()
    assert {one.person for one in verdict.signatures} == {"Ingrid Solheim", "Tomas Reyes"}


def test_both_sides_sign_at_once_and_both_signatures_are_kept(
    ship_officer: Person, terminal_officer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    from compat.accord import signing  # noqa: PLC0415

    make = signing._make

    def overtaken(*args: object, **options: object) -> object:
        made = make(*args, **options)  # type: ignore[arg-type]
        monkeypatch.setattr(signing, "_make", make)
        sign(Accord.objects.get(pk=accord.pk), terminal_officer)
        return made

    monkeypatch.setattr(signing, "_make", overtaken)
    signed = sign(accord, ship_officer)
    assert signed.plan is not None
    assert verify_data(bytes(signed.plan.payload), bytes(signed.plan.signatures), authority().certificate).holds


def test_a_clock_that_was_set_back_signs_nothing(
    ship_officer: Person, terminal_officer: Person, clock_compared: None
) -> None:
    accord = bring_to(State.SETTLED, ship_officer, terminal_officer)
    sign(accord, ship_officer, now=NOW - timedelta(seconds=50))  # acts may wait for each other so long
    with pytest.raises(ClockError, match="clock says 2031-04-14 05:30 UTC, but the last act in the trail was at"):
        sign(accord, terminal_officer, now=NOW - timedelta(hours=1))
    assert Signature.objects.count() == 1


def test_a_certificate_tells_nothing_secret(ship_officer: Person) -> None:
    opened(ship_officer)
    pem = PersonKey.objects.get().certificate_pem
    assert x509.load_pem_x509_certificate(pem.encode())
    assert "PRIVATE" not in pem
