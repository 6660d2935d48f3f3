"""Detached signatures over a plan's data file: CMS (RFC 5652) with the attributes of CAdES (pure: no Django).

One file holds the signatures of both sides; ``openssl cms -verify`` checks it with nothing but the data file and the
authority's certificate. The side and the title of the signer are a signed attribute (signingDescription, RFC 2985).
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Coroutine, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from asn1crypto import algos, cms, core, keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from pyhanko.sign.ades.asn1_util import register_cms_attribute
from pyhanko.sign.attributes import CMSAttributeProvider, SignedAttributeProviderSpec
from pyhanko.sign.signers import SimpleSigner
from pyhanko.sign.signers.pdf_cms import PdfCMSSignedAttributes
from pyhanko.sign.timestamps import TimeStamper
from pyhanko_certvalidator.registry import SimpleCertificateStore

from compat.accord.checklist.item import Side
from shared.calc.errors import InputError
from shared.canonical import canonical_bytes

DIGEST = "sha256"
_DESCRIPTION = "signing_description"
register_cms_attribute("1.2.840.113549.1.9.13", _DESCRIPTION, core.UTF8String)


class SignatureFileError(InputError):
    """Bytes that are no signature file of a plan, with a sentence that says why."""


@dataclass(frozen=True)
class Office:
    """For which side a person signs, and with which title."""

    side: Side
    title: str

    def text(self) -> str:
        """Return the canonical text that is signed."""
        return canonical_bytes({"side": str(self.side), "title": self.title}).decode("utf-8")


def read_office(text: str) -> Office:
    """Read a signed office; raise SignatureFileError for any other text."""
    try:
        found = json.loads(text)
        office = Office(Side(found["side"]), found["title"])
        if office.text() == text:
            return office
    except (ValueError, TypeError, KeyError, InputError):
        pass
    raise SignatureFileError("A signature does not name its side and title.")


class _Description(CMSAttributeProvider):
    attribute_type = _DESCRIPTION

    def __init__(self, text: str) -> None:
        self.text = text

    async def build_attr_value(self, dry_run: bool = False) -> core.UTF8String:  # noqa: ARG002 - as it is called
        return core.UTF8String(self.text)


class _WithDescription(SignedAttributeProviderSpec):
    """The attributes that a signature has anyway, and the office."""

    def __init__(self, standard: SignedAttributeProviderSpec, text: str) -> None:
        self.standard, self.text = standard, text

    def signed_attr_providers(self, data_digest: bytes, digest_algorithm: str) -> Iterable[CMSAttributeProvider]:
        yield from self.standard.signed_attr_providers(data_digest, digest_algorithm)
        yield _Description(self.text)


class PersonSigner(SimpleSigner):
    """A person's opened key with its certificate, for one office."""

    def __init__(self, key: ec.EllipticCurvePrivateKey, certificate: x509.Certificate, office: Office) -> None:
        der = key.private_bytes(
            serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        super().__init__(
            signing_cert=asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER)),
            signing_key=keys.PrivateKeyInfo.load(der),
            cert_registry=SimpleCertificateStore(),
            embed_roots=False,
        )
        self.office = office

    def _signed_attr_provider_spec(self, *args: Any, **options: Any) -> SignedAttributeProviderSpec:
        return _WithDescription(super()._signed_attr_provider_spec(*args, **options), self.office.text())


def sign_data(data: bytes, signer: PersonSigner, *, now: datetime, timestamper: TimeStamper | None = None) -> bytes:
    """Return the detached signature (DER) of one person over ``data``."""
    made = signer.async_sign_general_data(
        data,
        DIGEST,
        detached=True,
        use_cades=True,
        timestamper=timestamper,
        signed_attr_settings=PdfCMSSignedAttributes(signing_time=now.astimezone(UTC)),
    )
    return merged([run(made).dump()])


def run(made: Coroutine[Any, Any, Any]) -> Any:
    """Wait for what the library does asynchronously; in a thread of its own, since this one may have a loop."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(asyncio.run, made).result()


def merged(signatures: Sequence[bytes]) -> bytes:
    """Return one signature file with the signers of all of ``signatures``, in their order of time."""
    parts = [_signed_data(one) for one in signatures]
    infos = sorted((info for part in parts for info in part["signer_infos"]), key=signing_time)
    certificates = {found.chosen.dump(): found for part in parts for found in part["certificates"]}
    return _content_info(infos, [certificates[der] for der in sorted(certificates)])


def split(signature_file: bytes) -> list[cms.SignedData]:
    """Return one signed-data object for each signer; raise SignatureFileError unless the file is exactly as merged.

    Whatever a signature does not cover is compared with how it must look, so that no byte changes unseen.
    """
    whole = _signed_data(signature_file)
    found = [_alone(info, whole["certificates"]) for info in whole["signer_infos"]]
    if not found or merged([_wrapped(one).dump() for one in found]) != signature_file:
        raise SignatureFileError("The signatures are not written as this program writes them: they were changed.")
    return found


def signing_time(info: cms.SignerInfo) -> datetime:
    """Return the time that a signer stated; raise SignatureFileError where there is none."""
    return _attribute(info, "signing_time", datetime)  # type: ignore[no-any-return]


def office_of(signed: cms.SignedData) -> Office:
    """Return side and title of the only signer of ``signed``."""
    return read_office(_attribute(signed["signer_infos"][0], _DESCRIPTION, str))


def certificate_of(signed: cms.SignedData) -> x509.Certificate:
    """Return the certificate of the only signer of ``signed``."""
    return x509.load_der_x509_certificate(signed["certificates"][0].chosen.dump())


def is_exact(signed: cms.SignedData, der: bytes) -> bool:
    """Tell whether ``der`` is byte for byte how this program writes the only signer of ``signed``."""
    info = signed["signer_infos"][0]
    return _content_info([info], list(_own(info, signed["certificates"]))) == der


def load(der: bytes) -> cms.SignedData:
    """Read the signature of one signer; raise SignatureFileError for anything else."""
    return _signed_data(der)


def _attribute(info: cms.SignerInfo, name: str, kind: type) -> Any:
    for attribute in info["signed_attrs"]:
        if attribute["type"].native == name and len(attribute["values"]) == 1:
            value = attribute["values"][0].native
            if isinstance(value, kind):
                return value
    raise SignatureFileError(f"A signature lacks its signed {name.replace('_', ' ')}.")


def _signed_data(der: bytes) -> cms.SignedData:
    try:
        info = cms.ContentInfo.load(der, strict=True)
        if info["content_type"].native != "signed_data":
            raise ValueError
        found = info["content"]
        found.native  # noqa: B018 - parses all of it, which is otherwise done late
    except (ValueError, TypeError, KeyError, OverflowError) as error:
        raise SignatureFileError("The signatures are no whole CMS file: it was changed, cut short, or another.") from (
            error
        )
    return found


def _alone(info: cms.SignerInfo, certificates: Iterable[cms.CertificateChoices]) -> cms.SignedData:
    return cms.ContentInfo.load(_content_info([info], list(_own(info, certificates))))["content"]


def _own(info: cms.SignerInfo, certificates: Iterable[cms.CertificateChoices]) -> Iterator[cms.CertificateChoices]:
    """Yield the certificate that a signer names: byte for byte, since names are the same in any case of letters."""
    for found in certificates:
        named = cms.IssuerAndSerialNumber({"issuer": found.chosen.issuer, "serial_number": found.chosen.serial_number})
        if named.dump() == info["sid"].chosen.dump():
            yield found


def _wrapped(signed: cms.SignedData) -> cms.ContentInfo:
    return cms.ContentInfo({"content_type": "signed_data", "content": signed})


def _content_info(infos: Sequence[cms.SignerInfo], certificates: Sequence[cms.CertificateChoices]) -> bytes:
    signed = cms.SignedData(
        {
            "version": "v1",
            "digest_algorithms": [algos.DigestAlgorithm({"algorithm": DIGEST})],
            "encap_content_info": {"content_type": "data"},
            "certificates": certificates,
            "signer_infos": infos,
        }
    )
    return bytes(_wrapped(signed).dump())
