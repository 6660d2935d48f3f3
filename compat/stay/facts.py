"""What is stated about a whole stay beside its case: tanks, water, stages (pure: no Django)."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from shared.calc.errors import InputError
from shared.calc.tank_table import TankTable, tank_table, ullage_table
from shared.cargo_facts import CargoFacts
from shared.facts import Elevation, Facts, OptionalText, PositiveFlow, ShortText, quantity
from vessels.facts import Key

MOST_TANKS = 60
MOST_ENTRIES = 400
MOST_WATERS = 60
MOST_OF_A_KIND = 40

Level = quantity("m", -1, 60, "Level over the zero of the tank's table")
Ullage = quantity("m", -1, 60, "Ullage below the reference height")
Volume = quantity("m³", 0, 300_000, "Volume")
Hour = quantity("h", 0, 1000, "Hours after the start of the discharge")
TideHour = quantity("h", -200, 1200, "Hours after the start of the discharge; before it below zero")
Lasting = quantity("h", 0.01, 500, "How long it lasts")
Draught = quantity("m", 0.5, 40, "Mean draught")


class TableEntry(Facts):
    """One line of a capacity table: a level or an ullage, and the volume in the tank."""

    level_m: Level | None = None
    ullage_m: Ullage | None = None
    volume_m3: Volume


class TrimCorrection(Facts):
    """What is added to an observed level at one trim by the stern."""

    trim_m: quantity("m", -10, 10, "Trim by the stern")
    level_correction_m: quantity("m", -5, 5, "Added to the observed level")


class TankWithTable(Facts):
    """A tank with its capacity table and what is in it now, by volume, level or ullage: one of these."""

    key: Key
    name: OptionalText = ""
    zero_elevation_m: Elevation
    reference_height_m: quantity("m", 0.1, 60, "Height of the ullage point over the table's zero") | None = None
    table: Annotated[list[TableEntry], Field(min_length=2, max_length=MOST_ENTRIES)]
    trim_corrections: Annotated[list[TrimCorrection], Field(max_length=MOST_OF_A_KIND)] = []
    volume_m3: Volume | None = None
    level_m: Level | None = None
    ullage_m: Ullage | None = None

    @model_validator(mode="after")
    def _table_reads(self) -> Self:
        try:
            table = self.as_table()
            held = self.volume_now(None)
        except InputError as error:
            raise ValueError(f"tank {self.key}: {error}") from None
        if not table.volume_m3[0] - 1e-6 <= held <= table.capacity_m3 + 1e-6:
            raise ValueError(
                f"tank {self.key}: volume_m3 is {held:g} m³; allowed: {table.volume_m3[0]:g} to"
                f" {table.capacity_m3:g} m³ (its table)."
            )
        return self

    def as_table(self) -> TankTable:
        """Return the capacity table by level."""
        trims = [one.trim_m for one in self.trim_corrections]
        added = [one.level_correction_m for one in self.trim_corrections]
        levels: list[Any] = [entry.level_m for entry in self.table if entry.level_m is not None]
        ullages: list[Any] = [entry.ullage_m for entry in self.table if entry.ullage_m is not None]
        volumes = [entry.volume_m3 for entry in self.table]
        if len(levels) == len(self.table) and not ullages:
            return tank_table(levels, volumes, trims, added)
        if len(ullages) != len(self.table) or levels:
            raise InputError("state level_m in every entry of the table, or ullage_m in every entry.")
        if self.reference_height_m is None:
            raise InputError("reference_height_m is missing; ullages need it.")
        by_ullage = ullage_table(self.reference_height_m, ullages, volumes)
        return tank_table(by_ullage.level_m.tolist(), by_ullage.volume_m3.tolist(), trims, added)

    def volume_now(self, trim_m: float | None) -> float:
        """Return what is in the tank; ``trim_m`` corrects a level where the table has corrections."""
        if sum(one is not None for one in (self.volume_m3, self.level_m, self.ullage_m)) != 1:
            raise InputError("state one of volume_m3, level_m and ullage_m: what is in it at the start.")
        if self.volume_m3 is not None:
            return self.volume_m3
        level = self.level_m
        if level is None:
            if self.reference_height_m is None or self.ullage_m is None:
                raise InputError("reference_height_m is missing; an ullage needs it.")
            level = self.reference_height_m - self.ullage_m
        table = self.as_table()
        return float(table.volume(table.corrected_level(level, trim_m or 0.0) if self.trim_corrections else level))


class CargoTank(TankWithTable):
    """A cargo tank; its zero counts from the keel."""

    pumps_off_below_m: (
        quantity("m", -1, 60, "Level at which the cargo pumps are taken off and stripping takes over") | None
    ) = None
    residue_m3: Volume | None = None
    lever_m: quantity("m", -300, 300, "Centre of the tank forward (+) or aft (-) of the centre of flotation") | None = (
        None
    )


class ReceivingTank(TankWithTable):
    """A shore tank; its zero counts from the berth's zero."""

    full_at_m3: Volume | None = None


class DrawFacts(Facts):
    """Which pumps take which tanks, keeping the levels even or one tank after the other."""

    pumps: Annotated[list[Key], Field(min_length=1, max_length=MOST_OF_A_KIND)]
    tanks: Annotated[list[Key], Field(min_length=1, max_length=MOST_TANKS)]
    order: Literal["even", "in sequence"] = "even"


class ParcelFacts(Facts):
    """One parcel: from which tanks to which shore tanks; ``cargo`` where it is not that of the case."""

    name: ShortText
    cargo: CargoFacts | None = None
    tanks: Annotated[list[Key], Field(min_length=1, max_length=MOST_TANKS)]
    shore_tanks: Annotated[list[Key], Field(max_length=MOST_TANKS)] = []


class TideWater(Facts):
    """One high or low water."""

    at_h: TideHour
    height_m: quantity("m", -30, 30, "Height of tide over the berth's zero")


class DraughtEntry(Facts):
    """One line of the ship's hydrostatic table, for sea water of 1,025 kg/m³."""

    draught_m: Draught
    displacement_t: quantity("t", 1, 1_000_000, "Displacement in sea water") | None = None
    immersion_t_per_cm: quantity("t/cm", 0.1, 500, "Tonnes per centimetre immersion in sea water") | None = None


class BallastFacts(Facts):
    """Ballast taken evenly between two hours."""

    begins_h: Hour
    ends_h: Hour
    mass_t: quantity("t", 0.1, 300_000, "Ballast taken")
    lever_m: quantity("m", -300, 300, "Its centre forward (+) or aft (-) of the centre of flotation") | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        begins, ends = float(self.begins_h), float(self.ends_h)
        if ends <= begins:
            raise ValueError(f"ends_h {self.ends_h:g} h is not after begins_h {self.begins_h:g} h.")
        return self


class WaterFacts(Facts):
    """The ship in the water of the berth; what is not known is not checked."""

    density_kg_per_m3: quantity("kg/m³", 990, 1040, "Density of the water at the berth") | None = None
    draught_m: Draught | None = None
    trim_m: quantity("m", -10, 10, "Trim by the stern at the start") | None = None
    trim_moment_t_m_per_cm: quantity("t·m/cm", 1, 100_000, "Moment to change trim by one centimetre") | None = None
    freeboard_deck_m: quantity("m", 1, 60, "Freeboard deck over the keel") | None = None
    draughts: Annotated[list[DraughtEntry], Field(max_length=MOST_ENTRIES)] = []
    tide: Annotated[list[TideWater], Field(max_length=MOST_WATERS)] = []
    ballast: Annotated[list[BallastFacts], Field(max_length=MOST_OF_A_KIND)] = []
    least_under_keel_m: quantity("m", 0.5, 20, "Least water under the keel") | None = None
    least_manifold_elevation_m: Elevation | None = None
    greatest_manifold_elevation_m: Elevation | None = None
    highest_point_elevation_m: quantity("m", 1, 120, "Highest fixed point over the keel") | None = None
    greatest_elevation_m: quantity("m", 1, 200, "Highest elevation over the berth's zero that is free") | None = None


class StopFacts(Facts):
    """Agreed time without flow: from an hour, or after a volume ashore."""

    reason: ShortText
    lasts_h: Lasting
    begins_h: Hour | None = None
    after_m3: Volume | None = None

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.begins_h is None) == (self.after_m3 is None):
            raise ValueError("state begins_h or after_m3, one of the two.")
        return self


class WashingFacts(Facts):
    """Crude oil washing: its flow is taken from the discharge."""

    begins_h: Hour
    lasts_h: Lasting
    flow_m3_per_h: PositiveFlow
    least_pressure_bar_gauge: quantity("bar", 0.1, 40, "Least pressure for the washing machines") | None = None


class StrippingFacts(Facts):
    """How the rest is taken out: by a pump or eductor of the ship, or at a stated rate."""

    pump: Key | None = None
    rate_m3_per_h: PositiveFlow | None = None

    @model_validator(mode="after")
    def _one_at_least(self) -> Self:
        if self.pump is None and self.rate_m3_per_h is None:
            raise ValueError("state pump, rate_m3_per_h, or both.")
        return self


class ConsumptionPoint(Facts):
    """One line of a consumption curve: fuel for all pumps that run, at their shaft power together."""

    power_kw: quantity("kW", 0, 100_000, "Shaft power of all pumps that run")
    fuel_kg_per_h: quantity("1", 0, 100_000, "Fuel for it, kg/h")


class StageFacts(Facts):
    """The stages beside bulk discharge; the agreed start rate is that of the case."""

    line_content_m3: Volume | None = None
    ramp_h: quantity("h", 0.01, 24, "Time to bring all pumps up; half an hour is common practice") = 0.5
    stripping: StrippingFacts | None = None
    washing: Annotated[list[WashingFacts], Field(max_length=MOST_OF_A_KIND)] = []
    line_clearing_h: quantity("h", 0, 100, "Clearing of arms and lines at the end") | None = None
    between_parcels_h: quantity("h", 0, 100, "Change of line-up between two parcels") | None = None
