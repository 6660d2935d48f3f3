"""Which row of a table of curve points is the one that does not fit (pure: no Django)."""

from __future__ import annotations

from typing import Any

from shared.calc.curve import check_falling_curve


def first_point_that_rises(points: list[dict[str, Any]]) -> tuple[int, str] | None:
    """Return the place of the first point at which a pump's curve no longer falls, and the sentence about it."""
    flows = [point["flow_m3_per_h"] for point in points]
    heads = [point["head_m"] for point in points]
    for count in range(2, len(points) + 1):
        try:
            check_falling_curve(flows[:count], heads[:count])
        except ValueError as error:
            return count - 1, str(error)
    return None
