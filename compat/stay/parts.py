"""The parts of a worked-out stay (pure: no Django): frozen, in the units that documents are written in."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

FORMAT = "berth-accord-stay-answer/1"
_THROUGHOUT = 1.0 - 1e-9
Outcome = Literal["planned", "not to be settled"]


@dataclass(frozen=True)
class PumpHour:
    """What one pump does at an hour; it stands where its speed is None."""

    pump: str
    speed_rpm: float | None
    flow_m3_per_h: float
    suction_pressure_bar_gauge: float | None
    discharge_pressure_bar_gauge: float | None


@dataclass(frozen=True)
class TankHour:
    """What is in one cargo tank at an hour; ullage is None where no reference height is stated."""

    tank: str
    volume_m3: float
    level_m: float
    ullage_m: float | None


@dataclass(frozen=True)
class HourRow:
    """What the crew should see at an hour; None is not known, or nothing is pumped.

    The water under the keel is that at the deeper end where the trim is known, otherwise that of the mean draught.
    """

    hour: float
    stage: str
    binding: str
    rate_m3_per_h: float
    ashore_m3: float
    to_go_m3: float
    manifold_pressure_bar_gauge: float | None
    pumps: tuple[PumpHour, ...]
    tanks: tuple[TankHour, ...]
    receiver: str
    receiver_m3: float | None
    receiver_surface_m: float | None
    water_level_m: float | None
    draught_m: float | None
    trim_m: float | None
    freeboard_m: float | None
    manifold_elevation_m: float
    under_keel_m: float | None
    air_clearance_m: float | None


@dataclass(frozen=True)
class StagePart:
    """One stage, or one stop: its time, volume, speeds, what binds, inert gas and fuel."""

    name: str
    parcel: str
    begins_h: float
    ends_h: float
    volume_m3: float
    mean_rate_m3_per_h: float
    greatest_rate_m3_per_h: float
    least_speed_rpm: float | None
    greatest_speed_rpm: float | None
    binding: tuple[str, ...]
    inert_gas_m3_per_h: float
    shaft_energy_kwh: float | None
    fuel_t: float | None

    @property
    def hours(self) -> float:
        """How long it lasts."""
        return self.ends_h - self.begins_h

    @property
    def speed_words(self) -> str:
        """Write the speeds as they are printed: one, or from the least to the greatest."""
        ends = [f"{one:,.0f}" for one in (self.least_speed_rpm, self.greatest_speed_rpm) if one is not None]
        return " to ".join(dict.fromkeys(ends)) + " rpm" if ends else ""


@dataclass(frozen=True)
class Change:
    """An event: another limit takes over, pumps come off, a tank is full, a stage ends."""

    hour: float
    what: str


@dataclass(frozen=True)
class Problem:
    """What keeps the plan from being settled, and the hour at which it happens."""

    hour: float
    sentence: str


@dataclass(frozen=True)
class Warranty:
    """The stay beside the usual pumping warranty: whole cargo in 24 h, or 7 bar at the manifold (trade norm)."""

    hours: float
    within_24_h: bool
    bulk_hours: float
    bulk_hours_at_7_bar: float
    least_bulk_pressure_bar_gauge: float | None

    @property
    def at_7_bar_throughout(self) -> bool:
        """Tell whether the manifold shows 7 bar or more all through bulk discharge."""
        return self.bulk_hours > 0 and self.bulk_hours_at_7_bar >= self.bulk_hours * _THROUGHOUT

    @property
    def verdict(self) -> str:
        """Say in words which of both is kept."""
        kept = [
            name
            for name, here in (("within 24 h", self.within_24_h), ("7 bar throughout", self.at_7_bar_throughout))
            if here
        ]
        return " and ".join(kept) or "neither 24 h nor 7 bar throughout"


@dataclass(frozen=True)
class Series:
    """Curves for the pictures, one value for each time; None where nothing is pumped or nothing is known.

    The reach is that of the arms: between which heights over the berth's zero they follow the manifold.
    """

    hour: tuple[float, ...]
    rate_m3_per_h: tuple[float, ...]
    manifold_pressure_bar_gauge: tuple[float | None, ...]
    speed_rpm: tuple[float | None, ...]
    binding: tuple[str, ...]
    ashore_m3: tuple[float, ...]
    manifold_elevation_m: tuple[float, ...]
    water_level_m: tuple[float | None, ...]
    tank_level_m: dict[str, tuple[float, ...]]
    lowest_reach_m: float | None = None
    highest_reach_m: float | None = None


@dataclass(frozen=True)
class StayAnswer:
    """A whole stay; ``hours`` runs from the start to the end of the last stage, or to where it can't go on."""

    title: str
    outcome: Outcome
    hours: float
    ashore_m3: float
    to_leave_m3: float
    allowed_h: float | None
    stages: tuple[StagePart, ...]
    hourly: tuple[HourRow, ...]
    changes: tuple[Change, ...]
    problems: tuple[Problem, ...]
    warranty: Warranty
    fuel_t: float | None
    questions: tuple[str, ...]
    cautions: tuple[str, ...]
    series: Series

    @property
    def highest_rate_m3_per_h(self) -> float:
        """Highest rate of all stages."""
        return max((stage.greatest_rate_m3_per_h for stage in self.stages), default=0.0)

    @property
    def water_known(self) -> bool:
        """Tell whether anything of ship and water changes from hour to hour."""
        rows = self.hourly
        return any(row.water_level_m is not None or row.draught_m is not None or row.receiver for row in rows)

    @property
    def mean_bulk_rate_m3_per_h(self) -> float | None:
        """Mean rate of bulk discharge; None where there is none."""
        bulk = [stage for stage in self.stages if stage.name == "bulk"]
        hours = sum(stage.hours for stage in bulk)
        return sum(stage.volume_m3 for stage in bulk) / hours if hours else None

    @property
    def greatest_speed_rpm(self) -> float | None:
        """Greatest speed of any pump; None where none of the ship's is read."""
        return max((one.greatest_speed_rpm for one in self.stages if one.greatest_speed_rpm is not None), default=None)

    @property
    def inert_gas_m3_per_h(self) -> float:
        """Greatest need of inert gas."""
        return max((stage.inert_gas_m3_per_h for stage in self.stages), default=0.0)

    def document(self) -> dict[str, Any]:
        """Return the stay as a JSON document; the curves of the pictures are left out."""
        whole = asdict(self)
        whole.pop("series")
        return {"format": FORMAT, **_lists(whole)}


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, tuple) else value
