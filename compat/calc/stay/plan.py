"""What a stay is made of: tanks in the order in which pumps draw from them, stages, stops, water. SI, no Django."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from shared.calc.root import Array, Flags
from shared.calc.tide import Tide
from vessels.calc.floating import Floating

StageKind = Literal["line filling", "ramp", "bulk", "stripping", "line clearing"]


@dataclass(frozen=True)
class Draw:
    """Tanks drawn down together: surface over the keel in m against the volume left in them in m3, both rising."""

    volume_m3: Array
    surface_m: Array
    start_m3: float
    stop_m3: float


@dataclass(frozen=True)
class Group:
    """Pumps (flags over the kinds of pump) that draw together, and from what, one draw after the other.

    ``least_flow_m3_per_s`` is of one pump: when falling suction lets it give less, the pumps are taken off.
    """

    kinds: Flags
    draws: tuple[Draw, ...]
    least_flow_m3_per_s: float


@dataclass(frozen=True)
class Receiver:
    """A receiving tank: surface over the berth's zero in m against its volume in m3; ``stop_m3`` is where it is full.

    A receiver of unknown size has a single surface and endless room.
    """

    volume_m3: Array
    surface_m: Array
    start_m3: float
    stop_m3: float

    def surface(self, volume_m3: Array) -> Array:
        """Return the surface at volumes."""
        return np.asarray(np.interp(volume_m3, self.volume_m3, self.surface_m))


@dataclass(frozen=True)
class Stage:
    """One stage; it ends at its volume, after its time, or when the tanks are down to where pumps are taken off.

    ``rate_m3_per_s`` caps it (a ramp starts from it). ``kinds`` are the pumps of stripping; without any, and with
    a rate, the rate is taken as stated. Their base row is ``row``, with the surface that it was made for.
    """

    kind: StageKind
    rate_m3_per_s: float = np.inf
    volume_m3: float = np.inf
    lasts_s: float = np.inf
    kinds: Flags | None = None
    row: int = -1


@dataclass(frozen=True)
class Parcel:
    """One liquid discharged through one line-up; ``row`` is its base row of the circuit."""

    row: int
    density_kg_per_m3: float
    groups: tuple[Group, ...]
    receivers: tuple[Receiver, ...]
    stages: tuple[Stage, ...]


@dataclass(frozen=True)
class Stop:
    """Agreed time without flow: it begins at a time, or after a volume ashore."""

    name: str
    lasts_s: float
    begins_s: float | None = None
    after_m3: float | None = None


@dataclass(frozen=True)
class Washing:
    """Crude oil washing: a flow drawn off where the pumps meet, from one time to another."""

    begins_s: float
    ends_s: float
    flow_m3_per_s: float


@dataclass(frozen=True)
class Ballast:
    """Ballast taken evenly between two times."""

    begins_s: float
    ends_s: float
    mass_kg: float


@dataclass(frozen=True)
class Water:
    """The ship in the water: keel over the berth's zero; without a table of draughts she stays as deep as she is."""

    keel_m: float
    draught_m: float | None
    tide: Tide | None
    floating: Floating | None
    water_kg_per_m3: float
    ballast: tuple[Ballast, ...] = ()

    def draught(self, time_s: Array, ashore_kg: Array) -> Array:
        """Return the mean draught in m, not a number outside the table; as at the start where nothing is stated."""
        start = np.nan if self.draught_m is None else self.draught_m
        if self.floating is None or self.draught_m is None:
            return np.full(np.shape(time_s), start)
        taken = sum(
            (one.mass_kg * np.clip((time_s - one.begins_s) / (one.ends_s - one.begins_s), 0.0, 1.0))
            for one in self.ballast
        )
        weight = self.floating.displacement(self.draught_m, self.water_kg_per_m3) - ashore_kg + taken
        return self.floating.draught(weight, self.water_kg_per_m3)

    def level(self, time_s: Array) -> Array:
        """Return the water level over the berth's zero in m; not a number where neither tide nor draught is known."""
        if self.tide is not None:
            return self.tide.height(time_s)
        return np.full(np.shape(time_s), np.nan if self.draught_m is None else self.keel_m + self.draught_m)

    def keel(self, time_s: Array, ashore_kg: Array) -> Array:
        """Return the keel over the berth's zero in m."""
        if self.draught_m is None:
            return np.full(np.shape(time_s), self.keel_m)
        draught = self.draught(time_s, ashore_kg)
        return np.asarray(self.level(time_s) - np.where(np.isfinite(draught), draught, self.draught_m))


@dataclass(frozen=True)
class Stay:
    """One plan to be worked out."""

    parcels: tuple[Parcel, ...]
    water: Water
    stops: tuple[Stop, ...] = ()
    washing: tuple[Washing, ...] = ()
