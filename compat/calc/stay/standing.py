"""Where a stay stands: its time, tanks, stage and receiving tank, and the stretches behind it."""

from __future__ import annotations

import numpy as np

from compat.calc.stay.nodes import nodes_of
from compat.calc.stay.plan import Draw, Parcel, Receiver, Stage, Stay
from compat.calc.stay.track import Failure, Stretch, Track
from shared.calc.root import Array, Flags

_TINY_M3 = 1e-6


class Standing:
    """The state of one stay between two stretches."""

    def __init__(self, stay: Stay, kinds: int, step_s: float, points: int) -> None:
        self.stay, self.kinds, self.step_s, self.nodes = stay, kinds, step_s, nodes_of(points)
        self.time_s, self.ashore_m3, self.ashore_kg = 0.0, 0.0, 0.0
        self.parcel_at, self.stage_at = 0, 0
        self.stage_begun_s, self.stage_begun_m3 = 0.0, 0.0
        self.stops = sorted(stay.stops, key=lambda stop: (stop.begins_s or 0.0, stop.after_m3 or 0.0))
        self.stretches: list[Stretch] = []
        self.failure: Failure | None = None
        self.done = False
        self.splits = 0
        self.take_up_parcel()

    @property
    def parcel(self) -> Parcel:
        """Return the parcel under way."""
        return self.stay.parcels[self.parcel_at]

    @property
    def stage(self) -> Stage:
        """Return the stage under way."""
        return self.parcel.stages[self.stage_at]

    @property
    def receiver(self) -> Receiver:
        """Return the receiving tank under way."""
        return self.parcel.receivers[self.receiver_at]

    def draw(self, group: int) -> Draw | None:
        """Return what a group draws from now, None once its pumps are off."""
        draws = self.parcel.groups[group].draws
        return draws[self.drawn[group]] if self.drawn[group] < len(draws) else None

    def track(self) -> Track:
        """Return what has been worked out."""
        return Track(tuple(self.stretches), self.failure)

    def take_up_parcel(self) -> None:
        """Start the parcel under way with all its tanks as they are stated."""
        groups = self.parcel.groups
        self.drawn = [0] * len(groups)
        self.left = [group.draws[0].start_m3 for group in groups]
        self.receiver_at, self.received = 0, self.parcel.receivers[0].start_m3
        self.skip_empty_draws()

    def skip_empty_draws(self) -> None:
        """Go on to the next draw of every group whose own is down to its end."""
        for number, group in enumerate(self.parcel.groups):
            draw = self.draw(number)
            while draw is not None and self.left[number] <= draw.stop_m3 + _TINY_M3:
                self.drawn[number] += 1
                draw = self.draw(number)
                self.left[number] = draw.start_m3 if draw else group.draws[-1].stop_m3

    def add(
        self,
        name: str,
        time: Array,
        along: Array,
        groups: Array,
        rate: Array,
        code: np.ndarray,
        running: Flags,
        cap: Array,
        ended_by: str,
        drawn_off: float = 0.0,
    ) -> None:
        """Add a stretch from here; ``along`` is the volume at its points over that at its start."""
        self.stretches.append(
            Stretch(
                name=name,
                parcel=self.parcel_at,
                stage=self.stage_at,
                stage_begun_m3=self.stage_begun_m3,
                time_s=time,
                ashore_m3=self.ashore_m3 + along,
                ashore_kg=self.ashore_kg + along * self.parcel.density_kg_per_m3,
                group_m3=groups,
                drawn=tuple(self.drawn),
                receiver=self.receiver_at,
                receiver_m3=self.received + along,
                rate_m3_per_s=rate,
                code=code,
                running=running,
                cap_m3_per_s=cap,
                drawn_off_m3_per_s=drawn_off,
                ended_by=ended_by,
            )
        )
