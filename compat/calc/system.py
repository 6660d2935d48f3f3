"""One ship at one berth as arrays: pumps, common line, manifold, arms, shore line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.calc.line import Pipes, head_loss
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2
from terminals.calc.berth_line import BerthLine, head_behind_booster, heads_along
from vessels.calc.pump_group import PumpGroup


@dataclass(frozen=True)
class ShipShore:
    """Cases side by side; every array has the cases on its first axis, elevations on one zero.

    ``point_elevation_m`` holds manifold, arm end and each segment end: (cases, 2 + segments).
    ``drawn_off_m3_per_s`` (cases,) leaves where the pumps meet, for washing tanks; None where nothing does.
    """

    pumps: PumpGroup
    common_line: Pipes
    berth: BerthLine
    point_elevation_m: Array
    density_kg_per_m3: Array
    viscosity_m2_per_s: Array
    drawn_off_m3_per_s: Array | None = None

    def ashore(self, flow_m3_per_s: Array) -> Array:
        """Return what of the pumps' total flow goes ashore: all but what is drawn off where the pumps meet."""
        if self.drawn_off_m3_per_s is None:
            return flow_m3_per_s
        return np.maximum(flow_m3_per_s - self.drawn_off_m3_per_s, 0.0)

    def pressure_pa_gauge(self, head_m: Array, elevation_m: Array) -> Array:
        """Return gauge pressure of a grade line over an elevation; velocity head is left out, by practice."""
        weight = self.density_kg_per_m3 * GRAVITY_M_PER_S2
        return (head_m - elevation_m) * weight.reshape(weight.shape + (1,) * (np.ndim(head_m) - 1))

    def common_loss(self, flow_m3_per_s: Array) -> tuple[Array, Array]:
        """Return the head lost between junction and manifold in m, and its slope with flow."""
        if self.common_line.length_m.shape[-1] == 0:
            return np.zeros_like(flow_m3_per_s), np.zeros_like(flow_m3_per_s)
        loss, slope = head_loss(self.common_line, flow_m3_per_s[..., None], self.viscosity_m2_per_s[..., None])
        return loss.sum(-1), slope.sum(-1)

    def junction_head(self, flow_m3_per_s: Array) -> tuple[Array, Array]:
        """Return the head in m that is needed where the pumps meet, and its slope with total flow."""
        ashore = self.ashore(flow_m3_per_s)
        heads, slopes = heads_along(self.berth, ashore)
        common, common_slope = self.common_loss(ashore)
        return heads[..., 0] + common, slopes[..., 0] + common_slope

    def point_pressures(self, flow_m3_per_s: Array) -> tuple[Array, Array]:
        """Return the gauge pressure in Pa at each point of the shore side, and its slope with flow."""
        heads, slopes = heads_along(self.berth, self.ashore(flow_m3_per_s))
        weight = (self.density_kg_per_m3 * GRAVITY_M_PER_S2)[..., None]
        return self.pressure_pa_gauge(heads, self.point_elevation_m), slopes * weight

    def ship_line_pressure(self, flow_m3_per_s: Array) -> tuple[Array, Array]:
        """Return the gauge pressure in Pa where the pumps meet, and its slope with flow; (cases, 1).

        It is that at the height of the lowest running pump, without what is throttled away at the discharge valves and
        lost in the pumps' own lines.
        """
        head, slope = self.junction_head(flow_m3_per_s)
        weight = (self.density_kg_per_m3 * GRAVITY_M_PER_S2)[..., None]
        return self.pressure_pa_gauge(head[..., None], self.lowest_pump_m[..., None]), slope[..., None] * weight

    @property
    def lowest_pump_m(self) -> Array:
        """Return the elevation in m of the lowest running pump of each case."""
        return np.asarray(np.where(self.pumps.count > 0, self.pumps.elevation_m, np.inf).min(-1))

    def booster_pressure(self, flow_m3_per_s: Array) -> tuple[Array, Array]:
        """Return the gauge pressure in Pa right behind the booster pump, and its slope with flow; (cases, 1).

        Without any booster it is (cases, 0).
        """
        booster = self.berth.booster
        if booster is None:
            nothing = np.zeros((*flow_m3_per_s.shape, 0))
            return nothing, nothing
        head, slope = head_behind_booster(self.berth, booster, self.ashore(flow_m3_per_s))
        elevation = (booster.feeds * self.point_elevation_m[..., :-1]).sum(-1)
        weight = (self.density_kg_per_m3 * GRAVITY_M_PER_S2)[..., None]
        return self.pressure_pa_gauge(head[..., None], elevation[..., None]), slope[..., None] * weight
