"""In which pieces a screening is worked out: a small one first, so that rows are seen at once (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator

_FIRST = 400
_GROWTH = 4
_MOST = 20_000


def pieces(total: int, berths: int) -> Iterator[tuple[int, int]]:
    """Yield first and last-plus-one pair of each piece, in order; every piece but the first ends with a whole ship."""
    size = _FIRST
    start = 0
    while start < total:
        stop = min(start + size, total)
        if start and berths:
            stop = min(-(-stop // berths) * berths, total)
        yield start, stop
        start = stop
        size = min(size * _GROWTH, _MOST)
