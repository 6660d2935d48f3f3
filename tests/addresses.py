"""Every address of the site, with every argument that a test has to offer."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.urls.converters import IntConverter, UUIDConverter

Offers = Mapping[str, Sequence[Any]]


@dataclass(frozen=True)
class Address:
    """One address: the page's name, the arguments it was made with, and the address itself."""

    name: str
    arguments: tuple[Any, ...]
    path: str


def every_address(*, uuids: Sequence[Any], words: Sequence[str], numbers: Sequence[int] = (1,)) -> Iterator[Address]:
    """Yield each address of the site with every combination of what is offered for its arguments.

    Arguments that are any word are offered the uuids too: programs' addresses take them as words.
    """
    spoken = [*words, *map(str, uuids)]
    for space, route, pattern in _patterns(get_resolver()):
        plain = spoken if space else words
        offers = [_offer(converter, uuids, plain, numbers) for converter in pattern.pattern.converters.values()]
        yield from _made(space, route, pattern, offers)


def known_addresses(offers: Mapping[str, Offers]) -> Iterator[Address]:
    """Yield each address with what is offered by the names of its arguments, where its route begins as stated.

    The longest beginning counts. Raises LookupError for an address that nothing is offered for, so that a new one
    can't be left out by forgetting it.
    """
    for space, route, pattern in _patterns(get_resolver()):
        begins = max((begin for begin in offers if route.startswith(begin)), key=len, default=None)
        names = list(pattern.pattern.converters)
        offered = offers[begins] if begins is not None else {}
        if missing := [name for name in names if name not in offered]:
            raise LookupError(f"Nothing is offered for {missing} of {route}: state it for a beginning of that route.")
        yield from _made(space, route, pattern, [offered[name] for name in names])


def every_name() -> Iterator[str]:
    """Yield the name of each address of the site, with that of its space before it."""
    return (f"{space}{pattern.name}" for space, _, pattern in _patterns(get_resolver()))


def _made(space: str, route: str, pattern: URLPattern, offers: Sequence[Sequence[Any]]) -> Iterator[Address]:
    names = list(pattern.pattern.converters)
    for values in itertools.product(*offers):
        kwargs = dict(zip(names, values, strict=True))
        path = reverse(f"{space}{pattern.name}", kwargs=kwargs)
        yield Address(f"{space}{pattern.name}", values, path)


def _patterns(resolver: URLResolver, space: str = "", route: str = "") -> Iterator[tuple[str, str, URLPattern]]:
    for entry in resolver.url_patterns:
        reached = f"{route}{entry.pattern}"
        if isinstance(entry, URLResolver):
            yield from _patterns(entry, f"{space}{entry.namespace}:" if entry.namespace else space, reached)
        else:
            assert entry.name, f"{entry} has no name"
            yield space, reached, entry


def _offer(converter: Any, uuids: Sequence[Any], words: Sequence[str], numbers: Sequence[int]) -> Sequence[Any]:
    if isinstance(converter, UUIDConverter):
        return uuids
    if isinstance(converter, IntConverter):
        return numbers
    return [word for word in words if re.fullmatch(converter.regex, word)]
