"""Answers a request for a picture, drawn only when the browser does not hold it already."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.cache import get_conditional_response, patch_cache_control

from shared.canonical import sha256_hex
from shared.models import Person
from shared.pictures import PictureUnits
from shared.quantities import preferred

_DRAWING = "1"  # raise it when a drawing changes, so that no browser shows the old one


def units_on_pictures(person: Person) -> PictureUnits:
    """Return the units that a person wants to see on axes."""
    return PictureUnits(
        flow=preferred(person.units, "m³/h"),
        length=preferred(person.units, "m"),
        pressure=preferred(person.units, "bar"),
    )


def picture_answer(request: HttpRequest, shows: str, draw: Callable[[], bytes]) -> HttpResponse:
    """Answer with an SVG; ``shows`` names everything that the drawing depends on."""
    etag = f'"{sha256_hex(f"{_DRAWING}:{shows}".encode())[:32]}"'
    answer = get_conditional_response(request, etag=etag)
    if not isinstance(answer, HttpResponse):
        # Opened on its own, the drawing needs the styles that it carries itself.
        headers = {"ETag": etag, "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'"}
        answer = HttpResponse(draw(), content_type="image/svg+xml", headers=headers)
    patch_cache_control(answer, private=True, no_cache=True)
    return answer
