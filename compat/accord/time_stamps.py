"""Asks a time-stamping service (RFC 3161) for the time of a signature, where the installation names one (pure)."""

from __future__ import annotations

import asyncio
import urllib.error
import urllib.request

from asn1crypto import tsp
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

    async def async_request_tsa_response(self, req: tsp.TimeStampReq) -> tsp.TimeStampResp:
        """Send one request and return the answer; raise TimeStampError where there is none."""
        return await asyncio.to_thread(self._asked, req.dump())

    def _asked(self, query: bytes) -> tsp.TimeStampResp:
        request = urllib.request.Request(  # noqa: S310 - the address is the installation's own setting, checked there
            self.address, data=query, headers={"Content-Type": "application/timestamp-query"}
        )
        try:
            with urllib.request.urlopen(request, timeout=ANSWER_TIME_S) as answer:  # noqa: S310
                return tsp.TimeStampResp.load(answer.read(_LARGEST_ANSWER_BYTES), strict=True)
        except (urllib.error.URLError, OSError, ValueError) as error:
            raise TimeStampError(
                f"The time-stamping service gave no stamp ({error}); nothing was signed. Try again, or ask who looks"
                " after this installation."
            ) from error


def time_stamper(address: str) -> TimeStamper | None:
    """Return the service at ``address``, or None where none is named."""
    return ServiceTimeStamper(address) if address else None
