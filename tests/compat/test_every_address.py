"""Every address of the URL list, asked for by everybody: a new one is asked for as well, or these tests fail."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import transaction
from django.test import Client

from shared.models import Person, TrailRow
from tests.addresses import Address, known_addresses
from tests.compat.world import World, world

__all__ = ["world"]
pytestmark = [pytest.mark.slow, pytest.mark.django_db]

OPEN_TO_ALL = {
    *("sign-in", "passkey-question", "guest-accept"),
    *("authority", "health-alive", "health-ready", "api-v1:openapi-json"),
}
"""Answered without signing in: how one gets in, what verifies plans, how the site does, what the API is."""
NOBODY_REACHES = {
    "metrics": "the tests' site has no token of metrics",
    "sign-out": "it ends the session that asks",
    "second-step": "it leads back to signing in until a secret was right",
    "passkey-sign-in": "it takes what a passkey answered",
    "passkey-remove": "nobody of the cast has a passkey",
    "assessment-sure-picture": "it draws what was sampled a moment before",
    "api-v1:api-root": "there is nothing at the root; it gives links their beginning",
}


class Visitor:
    """Somebody who asks, by a browser or, for addresses of programs, by their token; nothing they do is kept."""

    def __init__(self, person: Person | None, words: str = "") -> None:
        self.client, self.words = Client(), words
        if person is not None:
            self.client.force_login(person)

    def ask(self, address: Address, method: str) -> Any:
        """Return the answer; what it wrote is there only within the transaction of the caller."""
        headers = {"Authorization": f"Bearer {self.words}"} if address.name.startswith("api-v1:") and self.words else {}
        if method == "GET":
            return self.client.get(address.path, headers=headers)
        if headers:
            return self.client.post(address.path, b"{}", content_type="application/json", headers=headers)
        return self.client.post(address.path)


@contextmanager
def undone() -> Iterator[None]:
    """Take back whatever is written inside."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def visitor(world: World, who: str) -> Visitor:
    return Visitor(world.people[who], world.tokens.get(who, ""))


def refused_unread(address: Address) -> set[int]:
    """Return how a program's empty document is refused before anything is looked up."""
    return {422} if address.name.startswith("api-v1:") else set()


def leads_to_sign_in(answer: Any) -> bool:
    return answer.status_code == 302 and answer["Location"].startswith("/sign-in/")


def test_somebody_reaches_every_address(world: World) -> None:
    """What is offered fits: every page opens for a member, and every act is at least looked at."""
    visitors = [visitor(world, who) for who in ("ship_officer", "terminal_officer", "ship_admin", "terminal_admin")]
    visitors += [visitor(world, "installation_admin"), Visitor(None)]
    missed: dict[str, set[int]] = defaultdict(set)
    reached = set()
    for address in known_addresses(world.offers):
        for one in visitors:
            for method in ("GET", "POST"):
                if address.name in reached | set(NOBODY_REACHES):
                    continue
                with undone():
                    answer = one.ask(address, method)
                if answer.status_code in {200, 201, 400, 409, 422} or (
                    answer.status_code == 302 and not leads_to_sign_in(answer)
                ):
                    reached.add(address.name)
                else:
                    missed[address.name].add(answer.status_code)
    unreached = {name: told for name, told in missed.items() if name not in reached}
    assert not unreached, "\n".join(f"{name}: {told}" for name, told in unreached.items())


def test_without_signing_in_nothing_opens_but_what_is_open_to_all(world: World) -> None:
    nobody, opened, failed = Visitor(None), set(), []
    for address in known_addresses(world.offers):
        for method in ("GET", "POST"):
            with undone():
                answer = nobody.ask(address, method)
            if answer.status_code >= 500:
                failed.append((method, address.path, answer.status_code))
            if answer.status_code not in {401, 403, 404, 405} and not leads_to_sign_in(answer):
                opened.add(address.name)
    assert not failed
    assert opened == OPEN_TO_ALL, (sorted(opened - OPEN_TO_ALL), sorted(OPEN_TO_ALL - opened))


READERS_DO = {
    "sign-out": "it ends the session that asks",
    "passkey-sign-in": "it counts a wrong try to sign in",
    "screening-unshare": "a reader may give up what was shared with them",
}
READERS_SEND = {
    *("own-secret", "own-units", "own-notices", "passkey-add", "time-code-add", "time-code-remove", "recovery-codes"),
    *("tokens", "sign-in", "second-step", "guest-accept", "health-alive", "health-ready"),
    *("assessment-case-file", "assessment-keel", "stay-file"),
    *("learned-vessel", "learned-berth", "screening-share"),
}
"""Their own things; what answers without keeping anything; forms that refuse an empty one before the act is asked."""


@pytest.mark.parametrize("who", ["ship_reader", "terminal_reader"])
def test_a_reader_changes_nothing(who: str, world: World) -> None:
    """Post to everything that a member may post to: only one's own things change."""
    reader, taken, wrong = visitor(world, who), defaultdict(set), []
    subject = world.people[who].subject
    for address in known_addresses(world.offers):
        if address.name in READERS_DO:
            continue
        with undone():
            before, last = rows(), TrailRow.objects.count()
            answer = reader.ask(address, "POST")
            others = TrailRow.objects.filter(position__gt=last).exclude(subject=subject)
            if answer.status_code >= 500 or others or rows() != before:
                wrong.append((address.path, answer.status_code, [str(row) for row in others]))
        if answer.status_code not in {403, 404, 405} | refused_unread(address):
            taken[address.name].add(answer.status_code)
    assert not wrong
    more = sorted(set(taken) - READERS_SEND - {"api-v1:openapi-json"})
    assert not more, "\n".join(f"{name}: {taken[name]}" for name in more)


def rows() -> dict[str, int]:
    """Return how many rows each table has."""
    models = [model for model in apps.get_models() if model is not Session]
    return {model._meta.label: model._default_manager.count() for model in models}


KNOWN_TO_ALL = {
    *("guest-accept", "vessel-questionnaire"),
    *("terminal", "berth", "berth-facts-file", "berth-line-picture", "api-v1:read_berth"),
}
"""What a link or a blank form opens, and berths: every organisation knows them, and the line of this one is shared."""


@pytest.mark.parametrize("who", ["stranger", "other_terminal_officer", "installation_admin"])
def test_for_others_nothing_with_a_name_is_there(who: str, world: World) -> None:
    """Everything that belongs to somebody answers 404 or refuses, by browser and by token."""
    other, opened, wrong = visitor(world, who), defaultdict(set), []
    subject = world.people[who].subject
    for address in known_addresses(world.offers):
        if not address.arguments:
            continue
        for method in ("GET", "POST"):
            with undone():
                last = TrailRow.objects.count()
                answer = other.ask(address, method)
                others = TrailRow.objects.filter(position__gt=last).exclude(subject=subject)
                if answer.status_code >= 500 or others:
                    wrong.append((method, address.path, answer.status_code, [str(row) for row in others]))
            if answer.status_code not in {401, 403, 404, 405} | refused_unread(address):
                opened[address.name].add((method, answer.status_code))
    assert not wrong
    more = sorted(set(opened) - KNOWN_TO_ALL)
    assert not more, "\n".join(f"{name}: {opened[name]}" for name in more)
