"""A person's signing key: made when they first need it and agree to it, opened with their secret and with nothing else.

The server keeps it sealed; a changed secret seals it anew, and a lost secret closes it for good.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from django.conf import settings
from django.db import IntegrityError, transaction

from compat.accord.key_models import PersonKey
from compat.accord.moving import MeanwhileError
from shared.authority import Authority, fingerprint, load_or_make_authority
from shared.calc.errors import AccordError
from shared.key_sealing import SealedKeyError, open_sealed, seal
from shared.models import Person
from shared.own_secrets import follow_secret
from shared.trail import Fact, record

CONSENT = (
    "Make a signing key for me. It is kept here encrypted under my secret, so that nobody signs with it without typing"
    " that secret, and this installation certifies that it is mine."
)


class KeyNeededError(AccordError):
    """The person has no signing key that can be used, and has not agreed that one is made."""


@dataclass(frozen=True)
class OpenedKey:
    """A person's private key, for as long as they sign, and the certificate over it."""

    private: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def certificate_sha256(self) -> str:
        """The fingerprint by which trail and pages name the certificate."""
        return fingerprint(self.certificate)


def authority() -> Authority:
    """Return this installation's authority; its key and certificate are made where they are missing."""
    return load_or_make_authority(settings.SIGNING_KEY_FILE)


def usable_key(person: Person, organisation: str, now: datetime) -> PersonKey | None:
    """Return the key with which a person can sign for an organisation now, or None."""
    key = person.signing_keys.filter(sealed__isnull=False).first()
    fits = key is not None and (key.name, key.organisation) == (person.full_name, organisation)
    return key if fits and key is not None and key.made_at <= now < key.valid_until else None


def open_key(*, by: Person, now: datetime, organisation: str, secret: str, consents: bool) -> OpenedKey:
    """Open the person's key with their secret; make one first if there is none that fits and they agree.

    Raises KeyNeededError without that consent. The secret was checked before.
    """
    key = usable_key(by, organisation, now)
    if key is not None:
        try:
            return OpenedKey(open_sealed(bytes(key.sealed or b""), secret, by.subject), _certificate(key))
        except SealedKeyError:
            # The secret was set without its former one, so nothing opens this key any more.
            PersonKey.objects.filter(pk=key.pk).update(sealed=None)
    if not consents:
        raise KeyNeededError(
            "You have no signing key that can be used yet; nothing was signed. Agree that one is made, then sign."
        )
    return _make_key(by=by, now=now, organisation=organisation, secret=secret)


def _make_key(*, by: Person, now: datetime, organisation: str, secret: str) -> OpenedKey:
    private = ec.generate_private_key(ec.SECP256R1())
    certificate = authority().certify(
        private.public_key(), name=by.full_name, organisation=organisation, username=by.username, now=now
    )
    opened = OpenedKey(private, certificate)
    sealed = seal(private, secret, by.subject)
    facts: dict[str, Fact] = {
        "certificate_sha256": opened.certificate_sha256,
        "organisation": organisation,
        "valid_until": certificate.not_valid_after_utc.isoformat(),
    }
    try:
        with transaction.atomic():
            PersonKey.objects.filter(person=by, sealed__isnull=False).update(sealed=None)
            PersonKey.objects.create(
                person=by,
                sealed=sealed,
                certificate_pem=certificate.public_bytes(serialization.Encoding.PEM).decode("ascii"),
                certificate_sha256=opened.certificate_sha256,
                name=by.full_name,
                organisation=organisation,
                made_at=now,
                valid_until=certificate.not_valid_after_utc,
            )
            record(act="signing key made", by=by, now=now, subject=by.subject, facts=facts)
    except IntegrityError as error:
        raise MeanwhileError("You are signing in another window at this moment; sign again here.") from error
    return opened


@follow_secret
def seal_anew(person: Person, present: str | None, secret: str) -> None:
    """Seal a person's key under their new secret; close it where the one it was sealed under is lost."""
    for key in PersonKey.objects.select_for_update().filter(person=person, sealed__isnull=False):
        try:
            private = open_sealed(bytes(key.sealed or b""), present or "", person.subject)
            key.sealed = seal(private, secret, person.subject)
        except SealedKeyError:
            key.sealed = None
        key.save(update_fields=["sealed"])


def _certificate(key: PersonKey) -> x509.Certificate:
    return x509.load_pem_x509_certificate(key.certificate_pem.encode("ascii"))
