"""Mail that tells of acts: sent after they are committed, from a thread of its own, and never in their way."""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.urls import reverse

_log = logging.getLogger(__name__)
_post = ThreadPoolExecutor(max_workers=1, thread_name_prefix="mail")  # a slow mail server holds up nobody's page


@dataclass(frozen=True)
class Letter:
    """One mail to one address."""

    to: str
    subject: str
    text: str


def site_address(page: str, *arguments: object) -> str:
    """Return the whole address of a page, for a mail that is read elsewhere."""
    return settings.SITE_ADDRESS + reverse(page, args=arguments)


def mail_after_commit(letters: Callable[[], Sequence[Letter]]) -> None:
    """Write and send letters once the present transaction is committed; nothing that fails there reaches the act."""
    transaction.on_commit(lambda: _hand_over(letters), robust=True)


def wait_for_mail() -> None:
    """Return when everything handed over so far was sent or given up: for tests."""
    _post.submit(lambda: None).result()


def _hand_over(letters: Callable[[], Sequence[Letter]]) -> None:
    written = letters()
    if written:
        _post.submit(_send, written)


def _send(letters: Sequence[Letter]) -> None:
    try:
        with get_connection(timeout=settings.EMAIL_TIMEOUT) as connection:
            for letter in letters:
                EmailMessage(letter.subject, letter.text, to=[letter.to], connection=connection).send()
    except (OSError, ValueError):  # the mail server, or an address it can't take; the act stands either way
        _log.exception("%d mails were not sent, the first to %s.", len(letters), letters[0].to)
