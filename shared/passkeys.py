"""Passkeys (W3C Web Authentication) as this site asks for them: with the device's own check of its user."""

from __future__ import annotations

import ipaddress
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.utils.crypto import salted_hmac
from fido2.server import Fido2Server
from fido2.utils import websafe_decode
from fido2.webauthn import (
    AttestedCredentialData,
    AuthenticationResponse,
    PublicKeyCredentialRpEntity,
    PublicKeyCredentialUserEntity,
    RegistrationResponse,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from shared.calc.errors import AccordError
from shared.factor_models import Passkey
from shared.models import Person

SITE_NAME = "Berth Accord"
# A passkey whose device checked PIN, finger or face is two factors in one.
_VERIFIED = UserVerificationRequirement.REQUIRED
State = dict[str, Any]


class PasskeyError(AccordError):
    """A passkey's answer that can't be taken; the sentence says why."""


@dataclass(frozen=True)
class NewKey:
    """What a device told about the key that it made."""

    credential_id: bytes
    public_data: bytes
    counter: int


def host_for_passkeys(request: HttpRequest) -> str | None:
    """Return the name that passkeys are tied to, or None where the page was opened by a bare address."""
    host = request.get_host().rsplit(":", 1)[0] if not request.get_host().endswith("]") else request.get_host()
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return host.lower()
    return None


def ask_for_new(request: HttpRequest, person: Person) -> tuple[dict[str, Any], State]:
    """Return what the browser is to make a key from, and the state with which its answer is checked."""
    user = PublicKeyCredentialUserEntity(
        id=salted_hmac("shared.passkeys.person", str(person.pk), algorithm="sha256").digest(),
        name=person.username,
        display_name=person.full_name,
    )
    options, state = _server(request).register_begin(
        user,
        credentials=[_data(key) for key in person.passkeys.all()],
        resident_key_requirement=ResidentKeyRequirement.PREFERRED,
        user_verification=_VERIFIED,
    )
    return dict(options), _plain(state)


def read_new(request: HttpRequest, state: State | None, answer: str) -> NewKey:
    """Check the browser's answer to ``ask_for_new``; raise PasskeyError where it does not fit."""
    parsed = _parsed(answer)
    try:
        found = _server(request).register_complete(_asked(state), RegistrationResponse.from_dict(parsed))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise PasskeyError(f"The key can't be taken: {error} Try again.") from error
    data = found.credential_data
    if data is None:
        raise PasskeyError("The device told nothing about its key; try another one.")
    return NewKey(data.credential_id, bytes(data), found.counter)


def ask_for_proof(request: HttpRequest, keys: Sequence[Passkey] = ()) -> tuple[dict[str, Any], State]:
    """Return what the browser is to sign, with one of ``keys`` or with any that its device holds for this site."""
    options, state = _server(request).authenticate_begin(
        [_data(key) for key in keys] or None, user_verification=_VERIFIED
    )
    return dict(options), _plain(state)


def read_proof(request: HttpRequest, state: State | None, answer: str) -> tuple[Passkey, int]:
    """Return the passkey that signed and its counter; raise PasskeyError where none of ours did."""
    parsed = _parsed(answer)
    key = Passkey.objects.select_related("person").filter(credential_id=_credential_id(parsed)).first()
    if key is None:
        raise PasskeyError("This passkey is not known here; sign in by another way and add it again.")
    try:
        response = AuthenticationResponse.from_dict(parsed)
        _server(request).authenticate_complete(_asked(state), [_data(key)], response)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise PasskeyError(f"The passkey was not accepted: {error} Try again.") from error
    counter = response.response.authenticator_data.counter
    if key.counter and counter <= key.counter:
        raise PasskeyError("This passkey's counter went back, so it may be a copy. Sign in by another way, remove it.")
    return key, counter


def _server(request: HttpRequest) -> Fido2Server:
    host = host_for_passkeys(request)
    if host is None:
        raise PasskeyError("Passkeys need this site's name: open it by its name, not by a number.")
    origin = f"{request.scheme}://{request.get_host()}"
    return Fido2Server(PublicKeyCredentialRpEntity(name=SITE_NAME, id=host), verify_origin=lambda said: said == origin)


def _data(key: Passkey) -> AttestedCredentialData:
    return AttestedCredentialData(bytes(key.public_data))


def _plain(state: State) -> State:
    return {name: str(value) for name, value in state.items()}


def _asked(state: State | None) -> State:
    if not state:
        raise PasskeyError("The question was answered already or is too old; ask again.")
    return state


def _parsed(answer: str) -> dict[str, Any]:
    try:
        parsed = json.loads(answer)
    except ValueError as error:
        raise PasskeyError("The browser's answer can't be read; try again.") from error
    if not isinstance(parsed, dict):
        raise PasskeyError("The browser's answer can't be read; try again.")
    return parsed


def _credential_id(parsed: dict[str, Any]) -> bytes:
    try:
        return bytes(websafe_decode(str(parsed["rawId"])))
    except (ValueError, KeyError) as error:
        raise PasskeyError("The browser's answer names no key; try again.") from error
