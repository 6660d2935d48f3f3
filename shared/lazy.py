"""A sequence whose items are made when they are first asked for (pure: no Django)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, Generic, TypeVar, overload

Row = TypeVar("Row")
Item = TypeVar("Item")


class Lazily(Sequence[Item], Generic[Item]):
    """Items made of rows by a function, each once and only when it is needed."""

    def __init__(self, rows: Iterable[Row], make: Callable[[Row], Item]) -> None:
        self._rows: list[Any] = list(rows)
        self._make: Callable[[Any], Item] = make
        self._made: dict[int, Item] = {}

    def __len__(self) -> int:
        """Return how many items there are."""
        return len(self._rows)

    @overload
    def __getitem__(self, place: int) -> Item: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Item]: ...
    def __getitem__(self, place: int | slice) -> Item | Sequence[Item]:
        """Return an item, or several."""
        if isinstance(place, slice):
            return [self[one] for one in range(*place.indices(len(self)))]
        if not -len(self) <= place < len(self):
            raise IndexError(place)
        place %= len(self)
        if place not in self._made:
            self._made[place] = self._make(self._rows[place])
        return self._made[place]
