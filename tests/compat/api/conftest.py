"""Programs with tokens of the fixed cast."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from compat.api.actions import make_token
from compat.api.scopes import Scope
from shared.models import Person
from tests.builders import NOW


class Program:
    """Another program, which sends a token with each request."""

    def __init__(self, words: str) -> None:
        self.headers = {"Authorization": f"Bearer {words}"}
        self.client = Client()

    def get(self, path: str, **more: str) -> Any:
        """Ask."""
        return self.client.get(f"/api/v1{path}", headers=self.headers | more)

    def post(self, path: str, document: object = None, *, raw: bytes | None = None, **more: str) -> Any:
        """Send a document; ``key`` names the request."""
        headers = self.headers | ({"Idempotency-Key": more["key"]} if "key" in more else {})
        body = raw if raw is not None else json.dumps(document).encode()
        return self.client.post(f"/api/v1{path}", data=body, content_type="application/json", headers=headers)


ProgramOf = Callable[..., Program]


@pytest.fixture
def program_of() -> ProgramOf:
    """Return a factory of programs, each with a token of a person; all scopes unless some are named."""

    def program(person: Person, *scopes: Scope) -> Program:
        _, words = make_token(by=person, now=NOW, name="scheduler", scopes=scopes or list(Scope), days=90)
        return Program(words)

    return program


def problem_of(answer: HttpResponse) -> dict[str, Any]:
    """Return the problem details of a refusal."""
    assert answer.headers["Content-Type"] == "application/problem+json"
    found: dict[str, Any] = json.loads(answer.content)
    assert found["status"] == answer.status_code
    return found
