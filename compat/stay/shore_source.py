"""Where a loading comes from: a shore tank, by gravity or by pumps, through line and arms (pure: no Django)."""

from __future__ import annotations

from typing import Annotated, Self

import numpy as np
from pydantic import Field, model_validator

from compat.calc.stay.loading import Supply
from compat.stay.facts import ReceivingTank
from shared.calc.arrays import take
from shared.calc.curve import check_falling_curve, constant_pieces, pieces_through, stack_pieces
from shared.calc.root import Array, find_falling_root
from shared.calc.units import BAR_PA, GRAVITY_M_PER_S2, HOUR_S, MM2_PER_S
from shared.cargo_facts import CargoFacts, liquid_of
from shared.facts import Elevation, Facts, GaugePressure, PipeSegment
from shared.pipe_arrays import pipes_of
from terminals.calc.berth_line import BerthLine, heads_along
from terminals.facts import MOST_ARMS, MOST_POINTS, MOST_SEGMENTS, ArmFacts, BoosterPoint, ShoreSegment

_FIRST_HIGH_M3_PER_S, _HIGHEST_M3_PER_S = 1.0, 64.0


class ShoreSourceFacts(Facts):
    """A shore tank and the way from it to the ship's tanks; elevations count from the berth's zero.

    Without ``pump_points`` the cargo runs by gravity; they are the curve of all pumps that run together. The cargo in
    the ship's tanks, or the end of their drop lines where that is higher, stands at ``ship_surface_at_start_m`` and
    goes evenly to ``ship_surface_at_end_m`` with what is loaded.
    """

    tank: ReceivingTank
    pump_points: Annotated[list[BoosterPoint], Field(max_length=MOST_POINTS)] = []
    shore_line: Annotated[list[ShoreSegment], Field(max_length=MOST_SEGMENTS)] = []
    arms: Annotated[list[ArmFacts], Field(min_length=1, max_length=MOST_ARMS)]
    ship_line: Annotated[list[PipeSegment], Field(max_length=MOST_SEGMENTS)] = []
    cargo: CargoFacts
    ship_surface_at_start_m: Elevation
    ship_surface_at_end_m: Elevation
    ship_gas_pressure_bar_gauge: GaugePressure

    @model_validator(mode="after")
    def _curve_falls(self) -> Self:
        points = self.pump_points
        if points:
            check_falling_curve([point.flow_m3_per_h for point in points], [point.head_m for point in points])
        return self

    @property
    def name(self) -> str:
        """What the flow comes from."""
        return "what the shore's pumps give" if self.pump_points else "what gravity gives"


def supply_of(source: ShoreSourceFacts, to_load_m3: float) -> Supply:
    """Return what a source gives over the volume loaded; raise InputError where its liquid can't be worked out."""
    liquid = liquid_of(source.cargo)
    table, begun = source.tank.as_table(), source.tank.volume_now(None)
    available = begun - float(table.volume_m3[0])
    gas_m = float(source.ship_gas_pressure_bar_gauge) * BAR_PA / (liquid.density_kg_per_m3 * GRAVITY_M_PER_S2)
    one = constant_pieces(0.0)
    if source.pump_points:
        flows = [point.flow_m3_per_h / HOUR_S for point in source.pump_points]
        one = pieces_through(flows, [point.head_m for point in source.pump_points])
    pumps = stack_pieces([one])
    line = BerthLine(
        arms=pipes_of([source.arms]),
        arm_count=np.array([[arm.count for arm in source.arms]], dtype=float),
        segments=pipes_of([[*source.shore_line, *source.ship_line]]),
        end_head_m=np.zeros(1),
        viscosity_m2_per_s=np.array([liquid.kinematic_viscosity_mm2_per_s * MM2_PER_S]),
    )

    def rate(loaded_m3: Array) -> Array:
        """Return the flow at which what the shore has in head is lost on the way."""
        share = np.asarray(loaded_m3) / to_load_m3
        ship = source.ship_surface_at_start_m + share * (source.ship_surface_at_end_m - source.ship_surface_at_start_m)
        shore = np.interp(begun - np.asarray(loaded_m3), table.volume_m3, table.level_m) + source.tank.zero_elevation_m
        rows = np.zeros(share.size, dtype=int)
        here, running = take(line, rows), take(pumps, rows)

        def left_over(flow: Array) -> tuple[Array, Array]:
            lost, slope = heads_along(here, flow)
            given, given_slope = running.evaluate(flow)
            return shore + given - ship - gas_m - lost[:, 0], given_slope - slope[:, 0]

        low, high = np.zeros(share.size), np.full(share.size, _FIRST_HIGH_M3_PER_S)
        while (left_over(high)[0] > 0).any() and high[0] < _HIGHEST_M3_PER_S:
            high = 2.0 * high
        flow = find_falling_root(left_over, low, high).value
        return np.where(loaded_m3 <= available, flow, 0.0)

    return Supply(rate, source.name)
