"""Asks a time-stamping service (RFC 3161) for the time of a signature, where the installation names one (pure)."""

from __future__ import annotations

import asyncio
import urllib.request

from asn1crypto import cms, core, tsp
from pyhanko.sign.timestamps import TimeStamper

from shared.calc.errors import AccordError

ANSWER_TIME_S = 10
_LARGEST_ANSWER_BYTES = 200_000


class TimeStampError(AccordError):
    """The time-stamping service gave no stamp, so nothing was signed."""


class ServiceTimeStamper(TimeStamper):
    """A time-stamping service at an HTTP address."""

    def __init__(self, address: str) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self.address = address

    async def async_timestamp(self, message_digest: bytes, md_algorithm: str) -> cms.ContentInfo:
        """Return the stamp of a digest; raise TimeStampError where the service gives none, or one of something else."""
        try:
            stamp = await super().async_timestamp(message_digest, md_algorithm)
            info = stamp["content"]["encap_content_info"]["content"].parsed
            if info["message_imprint"]["hashed_message"].native != message_digest:
                raise ValueError("its stamp is of another text")
        except (OSError, ValueError, TypeError, KeyError) as error:
            raise TimeStampError(
                f"The time-stamping service gave no stamp ({error}); nothing was signed. Try again, or ask who looks"
                " after this installation."
            ) from error
        return stamp

    async def async_request_tsa_response(self, req: tsp.TimeStampReq) -> tsp.TimeStampResp:
        """Send one request and return the answer, whole but not yet judged."""
        return await asyncio.to_thread(self._asked, req.dump())

    def _asked(self, query: bytes) -> tsp.TimeStampResp:
        request = urllib.request.Request(  # noqa: S310 - the address is the installation's own setting, checked there
            self.address, data=query, headers={"Content-Type": "application/timestamp-query"}
        )
        with urllib.request.urlopen(request, timeout=ANSWER_TIME_S) as answer:  # noqa: S310
            return _answer(answer.read(_LARGEST_ANSWER_BYTES))


def _answer(der: bytes) -> tsp.TimeStampResp:
    """Read an answer; one that refuses carries no stamp (RFC 3161, section 2.4.2), which the library does not read."""
    parts = core.SequenceOf.load(der, strict=True, spec=core.Any)
    if len(parts) < 2:
        status = tsp.PKIStatusInfo.load(parts[0].dump())
        raise ValueError(f"it answered “{status['status'].native}”")
    return tsp.TimeStampResp.load(der, strict=True)


def time_stamper(address: str) -> TimeStamper | None:
    """Return the service at ``address``, or None where none is named."""
    return ServiceTimeStamper(address) if address else None
