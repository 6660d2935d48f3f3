"""The stay file: one case and everything that makes hours out of a rate (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from compat.case.case_file import CaseFile
from compat.stay.facts import (
    MOST_OF_A_KIND,
    MOST_TANKS,
    CargoTank,
    ConsumptionPoint,
    DrawFacts,
    ParcelFacts,
    ReceivingTank,
    StageFacts,
    StopFacts,
    WaterFacts,
)
from shared.calc.errors import InputError
from shared.calc.tide import Tide, tide_of
from shared.calc.units import HOUR_S
from shared.facts import Facts, OptionalText, quantity, sentences
from shared.reading import DocumentError
from vessels.calc.floating import Floating, floating_by_displacement, floating_by_tpc

FORMAT = "berth-accord-stay/1"
KIND = "stay file"


class StayFile(Facts):
    """A whole discharge. Hours count from its start; a list left empty means that nothing of it is known."""

    format: Literal["berth-accord-stay/1"]
    title: OptionalText = ""
    case: CaseFile
    cargo_tanks: Annotated[list[CargoTank], Field(min_length=1, max_length=MOST_TANKS)]
    draws: Annotated[list[DrawFacts], Field(max_length=MOST_OF_A_KIND)] = []
    shore_tanks: Annotated[list[ReceivingTank], Field(max_length=MOST_TANKS)] = []
    parcels: Annotated[list[ParcelFacts], Field(max_length=MOST_OF_A_KIND)] = []
    water: WaterFacts = WaterFacts()
    stages: StageFacts = StageFacts()
    stops: Annotated[list[StopFacts], Field(max_length=MOST_OF_A_KIND)] = []
    allowed_h: quantity("h", 1, 1000, "Hours allowed for the discharge") | None = None
    pump_fuel_kg_per_kwh: quantity("1", 0.05, 5, "Fuel for a kilowatt hour at the pumps' shafts, kg") | None = None

    pump_fuel_curve: Annotated[list[ConsumptionPoint], Field(max_length=MOST_OF_A_KIND)] = []

    @model_validator(mode="after")
    def _parts_fit(self) -> Self:
        _check_once("cargo_tanks", [tank.key for tank in self.cargo_tanks])
        _check_once("shore_tanks", [tank.key for tank in self.shore_tanks])
        _check_draws(self)
        _check_parcels(self)
        _check_water(self.water)
        _check_stripping(self)
        _check_fuel(self)
        return self

    def all_draws(self) -> list[DrawFacts]:
        """Return which pumps take which tanks; where nothing is stated, all running pumps take all tanks evenly."""
        if self.draws:
            return self.draws
        pumps = [state.pump for state in self.case.operation.pumps if state.running]
        return [DrawFacts(pumps=pumps, tanks=[tank.key for tank in self.cargo_tanks])]

    def all_parcels(self) -> list[ParcelFacts]:
        """Return the parcels; where none is stated, all tanks are one."""
        if self.parcels:
            return self.parcels
        tanks, shore = [tank.key for tank in self.cargo_tanks], [tank.key for tank in self.shore_tanks]
        return [ParcelFacts(name=self.case.cargo.name, tanks=tanks, shore_tanks=shore)]

    def tide(self) -> Tide | None:
        """Return the tide, None where no waters are stated."""
        waters = self.water.tide
        if not waters:
            return None
        return tide_of([one.at_h * HOUR_S for one in waters], [one.height_m for one in waters])

    def floating(self) -> Floating | None:
        """Return how the ship floats, None where neither displacements nor tonnes per centimetre are stated."""
        return _floating(self.water)


def _floating(water: WaterFacts) -> Floating | None:
    draughts = [one.draught_m for one in water.draughts]
    whole = [one.displacement_t for one in water.draughts if one.displacement_t is not None]
    each = [one.immersion_t_per_cm for one in water.draughts if one.immersion_t_per_cm is not None]
    if not draughts:
        return None
    if len(whole) == len(draughts):
        return floating_by_displacement(draughts, whole)
    if len(each) == len(draughts):
        return floating_by_tpc(draughts, each, water.draughts[0].displacement_t)
    raise InputError("state displacement_t at every draught, or immersion_t_per_cm at every draught.")


def _check_once(name: str, keys: Sequence[str]) -> None:
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise ValueError(f"{name}: tank {', '.join(twice)} is given twice; give each tank once.")


def _check_known(name: str, keys: Iterable[str], known: Sequence[str], of: str) -> None:
    for key in keys:
        if key not in known:
            raise ValueError(f"{name} names {key}, which is not among the {of}: {', '.join(known) or 'none'}.")


def _check_draws(stay: StayFile) -> None:
    tanks = [tank.key for tank in stay.cargo_tanks]
    running = [state.pump for state in stay.case.operation.pumps if state.running]
    drawn = [key for draw in stay.draws for key in draw.tanks]
    _check_known("draws", drawn, tanks, "cargo tanks")
    _check_known("draws", [key for draw in stay.draws for key in draw.pumps], running, "running pumps")
    _check_once("draws", drawn)
    pumps = [key for draw in stay.draws for key in draw.pumps]
    if len(set(pumps)) != len(pumps):
        raise ValueError("draws: a pump is named in two draws; name each pump once.")
    left = [key for key in tanks if key not in drawn] if stay.draws else []
    if left:
        raise ValueError(f"draws: no pump takes tank {', '.join(left)}; name it in a draw, or take the tank out.")


def _check_parcels(stay: StayFile) -> None:
    tanks, shore = [tank.key for tank in stay.cargo_tanks], [tank.key for tank in stay.shore_tanks]
    named = [key for parcel in stay.parcels for key in parcel.tanks]
    _check_known("parcels", named, tanks, "cargo tanks")
    _check_known("parcels", [key for parcel in stay.parcels for key in parcel.shore_tanks], shore, "shore tanks")
    _check_once("parcels", named)
    left = [key for key in tanks if key not in named] if stay.parcels else []
    if left:
        raise ValueError(f"parcels: tank {', '.join(left)} is in no parcel; name it in one.")


def _check_water(water: WaterFacts) -> None:
    try:
        floating = _floating(water)
        if water.tide:
            tide_of([one.at_h * HOUR_S for one in water.tide], [one.height_m for one in water.tide])
        if floating is not None and water.draught_m is not None:
            floating.displacement(water.draught_m, water.density_kg_per_m3 or 1025.0)
    except InputError as error:
        raise ValueError(f"water: {error}") from None
    if water.tide and water.draught_m is None:
        raise ValueError("water.draught_m is missing; a tide needs it to know where the keel is.")
    if floating is not None and (water.draught_m is None or water.density_kg_per_m3 is None):
        raise ValueError("water.draughts needs draught_m at the start and density_kg_per_m3 of the water.")


def _check_stripping(stay: StayFile) -> None:
    stripping = stay.stages.stripping
    if stripping is None or stripping.pump is None:
        return
    _check_known("stages.stripping", [stripping.pump], [pump.key for pump in stay.case.ship.pumps], "ship's pumps")
    if any(stripping.pump in draw.pumps for draw in stay.all_draws()):
        raise ValueError(
            f"stages.stripping.pump {stripping.pump} draws in bulk too; name a pump of its own, or state rate_m3_per_h."
        )


def _check_fuel(stay: StayFile) -> None:
    curve = stay.pump_fuel_curve
    if curve and stay.pump_fuel_kg_per_kwh is not None:
        raise ValueError("pump_fuel_curve and pump_fuel_kg_per_kwh are both stated; keep one of them.")
    if len(curve) == 1:
        raise ValueError("pump_fuel_curve has 1 entry; give at least 2, or state pump_fuel_kg_per_kwh.")
    for one, other in pairwise(curve):
        if other.power_kw <= one.power_kw:
            raise ValueError(
                f"pump_fuel_curve: {other.power_kw:g} kW stands after {one.power_kw:g} kW; put them in rising order."
            )


def check_stay(document: Any, name: str) -> StayFile:
    """Check a decoded stay document; raise DocumentError with every problem found."""
    try:
        return StayFile.model_validate(document)
    except ValidationError as error:
        raise DocumentError([f"{name}: {sentence}" for _, sentence in sentences(error)]) from None


def stay_schema() -> dict[str, Any]:
    """Return the JSON Schema of the stay file."""
    schema = StayFile.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Berth Accord stay file"
    return schema
