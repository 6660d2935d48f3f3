"""Asks for pages of an accord as a browser without scripts does."""

from __future__ import annotations

import re

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from compat.accord.models import Accord


def address(accord: Accord, page: str = "accord", *more: object) -> str:
    return reverse(page, args=[accord.public_id, *more])


def told(answer: HttpResponse) -> list[str]:
    """Return the messages on a page."""
    return [re.sub(r"\s+", " ", found) for found in re.findall(r'<p class="message[^>]*>(.*?)</p>', answer.text)]


def follow(client: Client, where: str, **values: str) -> HttpResponse:
    answer = client.post(where, values, follow=True)
    assert answer.status_code == 200
    return answer
