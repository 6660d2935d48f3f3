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
    """Yield each address of the site with every combination of what is offered for its arguments."""
    for space, pattern in _patterns(get_resolver()):
        offers = [_offer(converter, uuids, words, numbers) for converter in pattern.pattern.converters.values()]
        names = list(pattern.pattern.converters)
        for values in itertools.product(*offers):
            kwargs = dict(zip(names, values, strict=True))
            yield Address(pattern.name, values, reverse(f"{space}{pattern.name}", kwargs=kwargs))


def every_name() -> Iterator[str]:
    """Yield the name of each address of the site, with that of its space before it."""
    return (f"{space}{pattern.name}" for space, pattern in _patterns(get_resolver()))


def _patterns(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from _patterns(entry, f"{space}{entry.namespace}:" if entry.namespace else space)
        else:
            assert entry.name, f"{entry} has no name"
            yield space, entry


def _offer(converter: Any, uuids: Sequence[Any], words: Sequence[str], numbers: Sequence[int]) -> Sequence[Any]:
    if isinstance(converter, UUIDConverter):
        return uuids
    if isinstance(converter, IntConverter):
        return numbers
    return [word for word in words if re.fullmatch(converter.regex, word)]
