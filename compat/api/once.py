"""A request that is sent twice acts once: the Idempotency-Key header (IETF draft, HTTPAPI working group)."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from http import HTTPStatus
from typing import Any

from django.db import IntegrityError, transaction
from django.http import HttpRequest
from django.utils import timezone
from ninja import Status
from ninja.errors import HttpError

from compat.api.access import token_of
from compat.api.models import KeptAnswer, Token
from compat.api.schemas import Made
from shared.canonical import sha256_hex

HEADER = "Idempotency-Key"
KEPT_FOR = timedelta(hours=24)
_LONGEST_KEY = 100


def once(act: Callable[..., Made]) -> Callable[..., Status[Made]]:
    """Answer 201, and keep the answer of a writing request under its key, in the transaction of the act itself.

    A refused act is not kept: the same key may be used again once its cause is mended.
    """

    @wraps(act)
    def answer(request: HttpRequest, *args: Any, **values: Any) -> Status[Made]:
        key = request.headers.get(HEADER, "")
        if not key:
            return _made(act(request, *args, **values))
        if len(key) > _LONGEST_KEY or not key.isprintable():
            raise HttpError(HTTPStatus.BAD_REQUEST, f"{HEADER} takes 1 to {_LONGEST_KEY} printable characters.")
        token, asked = token_of(request), _sha256_of(request)
        KeptAnswer.objects.filter(at__lt=timezone.now() - KEPT_FOR).delete()
        if kept := KeptAnswer.objects.filter(token=token, key=key).first():
            return _again(kept, asked)
        try:
            return _first(token, key, asked, lambda: act(request, *args, **values))
        except IntegrityError:
            kept = KeptAnswer.objects.filter(token=token, key=key).first()
            if kept is None:
                raise
            return _again(kept, asked)

    # The annotations of the act are words of its own file; whoever reads the signature needs what they mean.
    answer.__signature__ = inspect.signature(act, eval_str=True)  # type: ignore[attr-defined]
    return answer


def after(work: Callable[..., object]) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Do ``work`` before an act's transaction begins, so that what takes long is found done and nobody waits for it."""

    def around(act: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(act)
        def answer(request: HttpRequest, *args: Any, **values: Any) -> Any:
            work(request, *args, **values)
            return act(request, *args, **values)

        return answer

    return around


@transaction.atomic
def _first(token: Token, key: str, asked: str, act: Callable[[], Made]) -> Status[Made]:
    kept = KeptAnswer.objects.create(token=token, key=key, request_sha256=asked, answer={}, at=timezone.now())
    made = act()
    kept.answer = made.model_dump(mode="json")
    kept.save(update_fields=["answer"])
    return _made(made)


def _again(kept: KeptAnswer, asked: str) -> Status[Made]:
    if kept.request_sha256 != asked:
        raise HttpError(
            HTTPStatus.UNPROCESSABLE_ENTITY,
            f"{HEADER} {kept.key} was used for another request; give each request a key of its own.",
        )
    return _made(Made.model_validate(kept.answer))


def _made(body: Made) -> Status[Made]:
    return Status(HTTPStatus.CREATED, body)


def _sha256_of(request: HttpRequest) -> str:
    return sha256_hex(f"{request.method} {request.get_full_path()}\n".encode() + request.body)
