"""What a pump's two gauges say about its head; velocity head between the tappings is left out, by practice."""

from __future__ import annotations

from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2


def head_from_gauges_m(
    discharge_pa_gauge: Array | float,
    suction_pa_gauge: Array | float,
    density_kg_per_m3: Array | float,
    discharge_gauge_above_suction_gauge_m: Array | float = 0.0,
) -> Array | float:
    """Return the head in m of the liquid that a pump gives, from its discharge and suction gauge in Pa.

    A suction gauge below zero is negative and so adds to the head. Common practice, no source.
    """
    weight = density_kg_per_m3 * GRAVITY_M_PER_S2
    return (discharge_pa_gauge - suction_pa_gauge) / weight + discharge_gauge_above_suction_gauge_m
