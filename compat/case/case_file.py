"""The case file: one JSON document that states ship, cargo, berth and what is agreed (pure: no Django)."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationError, model_validator

from compat.fit.visit import VisitFacts
from shared.cargo_facts import CargoFacts
from shared.facts import (
    Elevation,
    Facts,
    GaugePressure,
    OptionalText,
    PositiveFlow,
    Rating,
    ShortText,
    Speed,
    quantity,
    sentences,
)
from shared.reading import DocumentError, decode_object, read_object
from shared.surge_facts import ClosingTime, SurgeAllowance
from terminals.facts import BerthFacts
from vessels.facts import MOST_PUMPS, Key, PumpFacts, ShipFacts

FORMAT = "berth-accord-case/1"
KIND = "case file"
MOST_OWN_LIMITS = 20
MOST_TOLERANCES = 200
AS_THE_KEY = "as the key"


class AgreedFacts(Facts):
    """The limits that ship and terminal agree for this transfer."""

    manifold_pressure_bar_gauge: Rating | None = None
    highest_rate_m3_per_h: PositiveFlow | None = None
    start_rate_m3_per_h: PositiveFlow | None = None
    closing_time_s: ClosingTime | None = None
    surge_allowance_percent: SurgeAllowance | None = None


class PumpState(Facts):
    """One pump in this case: running or stopped, and the tank it draws from."""

    pump: Key
    running: Annotated[bool, Field(strict=True)]
    speed_rpm: Speed | None = None
    tank_surface_elevation_m: Elevation
    tank_gas_pressure_bar_gauge: GaugePressure


class OperationFacts(Facts):
    """How the pumps are run: each at its stated speed, or all at one free speed."""

    speed: Literal["as stated", "one common speed", "one common fraction"]
    viscosity_correction: Literal["as tested", "ANSI/HI 9.6.7"] = "as tested"
    pumps: Annotated[list[PumpState], Field(min_length=1, max_length=MOST_PUMPS)]


class OwnLimit(Facts):
    """A limit of somebody's own on one quantity: total flow, manifold pressure, or pump speed."""

    name: ShortText
    owner: Literal["ship", "terminal", "both"]
    source: OptionalText = ""
    rate_m3_per_h: PositiveFlow | None = None
    manifold_pressure_bar_gauge: Rating | None = None
    speed_rpm: Speed | None = None

    @model_validator(mode="after")
    def _one_quantity(self) -> Self:
        if (
            sum(value is not None for value in (self.rate_m3_per_h, self.manifold_pressure_bar_gauge, self.speed_rpm))
            != 1
        ):
            raise ValueError("state one of rate_m3_per_h, manifold_pressure_bar_gauge and speed_rpm.")
        return self

    def row_key(self, number: int) -> str:
        """Return the key of this limit's row, the ``number``-th of its kind."""
        return f"own-{number}"


class Tolerance(Facts):
    """How sure one number of the case is: between two values, or plus and minus a part of it; each value as likely."""

    key: Annotated[str, Field(min_length=3, max_length=200)]
    least: quantity(AS_THE_KEY, -1e6, 1e6, "Least value, in the unit of the key") | None = None
    greatest: quantity(AS_THE_KEY, -1e6, 1e6, "Greatest value, in the unit of the key") | None = None
    plus_minus: quantity(AS_THE_KEY, 1e-9, 1e6, "How far it may lie either way, in the unit of the key") | None = None
    plus_minus_percent: quantity("%", 1e-6, 100, "How far it may lie either way, of the value itself") | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        between = self.least is not None and self.greatest is not None
        if (self.least is None) != (self.greatest is None):
            raise ValueError(f"{self.key}: state both least and greatest.")
        if sum((between, self.plus_minus is not None, self.plus_minus_percent is not None)) != 1:
            raise ValueError(f"{self.key}: state least and greatest, plus_minus, or plus_minus_percent: one of these.")
        if self.least is not None and self.greatest is not None and self.least >= self.greatest:
            raise ValueError(f"{self.key}: least {self.least:g} is not below greatest {self.greatest:g}.")
        return self


class CaseFile(Facts):
    """A whole case. Ship elevations count from the keel; ``keel_elevation_m`` is the keel above the berth's zero."""

    format: Literal["berth-accord-case/1"]
    title: OptionalText = ""
    ship: ShipFacts
    cargo: CargoFacts
    berth: BerthFacts
    keel_elevation_m: Elevation
    operation: OperationFacts
    agreed: AgreedFacts = AgreedFacts()
    own_limits: Annotated[list[OwnLimit], Field(max_length=MOST_OWN_LIMITS)] = []
    tolerances: Annotated[list[Tolerance], Field(max_length=MOST_TOLERANCES)] = []
    visit: VisitFacts | None = None

    @model_validator(mode="after")
    def _operation_fits_ship(self) -> Self:
        check_operation(self)
        return self


def check_operation(case: CaseFile) -> None:
    """Raise ValueError with a sentence where the operation does not fit the ship."""
    _check_pumps_named(case)
    _check_speeds(case)
    _check_levels(case)
    _check_own_speeds(case)


def _check_pumps_named(case: CaseFile) -> None:
    known = [pump.key for pump in case.ship.pumps]
    named = [state.pump for state in case.operation.pumps]
    for key in named:
        if key not in known:
            raise ValueError(
                f"operation.pumps names pump {key}, which the ship does not have; she has {', '.join(known)}."
            )
        if named.count(key) > 1:
            raise ValueError(f"operation.pumps names pump {key} twice; name each pump once.")
    if not any(state.running for state in case.operation.pumps):
        raise ValueError("operation.pumps has no running pump; set running to true for at least one.")


def _check_speeds(case: CaseFile) -> None:
    stated = case.operation.speed == "as stated"
    if not stated and case.agreed.manifold_pressure_bar_gauge is None:
        raise ValueError(
            "agreed.manifold_pressure_bar_gauge is missing; a free speed needs it."
            " State the agreed pressure, or state the speeds."
        )
    pumps = {pump.key: pump for pump in case.ship.pumps}
    if not stated:
        _check_common_range(case, [pumps[state.pump] for state in case.operation.pumps if state.running])
    for state in case.operation.pumps:
        if not (state.running and stated):
            continue
        pump = pumps[state.pump]
        if state.speed_rpm is None:
            raise ValueError(
                f"operation.pumps: pump {state.pump} runs as stated but has no speed_rpm; state its speed."
            )
        if not pump.least_speed_rpm <= state.speed_rpm <= pump.greatest_speed_rpm:
            raise ValueError(
                f"operation.pumps: speed_rpm of pump {state.pump} is {state.speed_rpm:g} rpm;"
                f" allowed: {pump.least_speed_rpm:g} to {pump.greatest_speed_rpm:g} rpm."
            )


def _check_common_range(case: CaseFile, running: list[PumpFacts]) -> None:
    """Refuse a common speed that no setting gives to all the pumps whose speed can be set."""
    free = [pump for pump in running if pump.least_speed_rpm < pump.greatest_speed_rpm]
    if len(free) < 2:
        return
    common = case.operation.speed == "one common speed"
    scales = [1.0 if common else max(curve.speed_rpm for curve in pump.curves) for pump in free]
    highest_least = max(range(len(free)), key=lambda i: free[i].least_speed_rpm / scales[i])
    lowest_greatest = min(range(len(free)), key=lambda i: free[i].greatest_speed_rpm / scales[i])
    fast, slow = free[highest_least], free[lowest_greatest]
    if fast.least_speed_rpm / scales[highest_least] > slow.greatest_speed_rpm / scales[lowest_greatest]:
        other = "one common fraction" if common else "as stated"
        raise ValueError(
            f"operation.speed is {case.operation.speed!r}, but pump {fast.key} runs from {fast.least_speed_rpm:g} rpm"
            f" and pump {slow.key} only up to {slow.greatest_speed_rpm:g} rpm; choose {other!r}, or stop one of them."
        )


def _check_levels(case: CaseFile) -> None:
    tanks = case.ship.cargo_tanks
    if tanks is None:
        return
    for state in case.operation.pumps:
        level = state.tank_surface_elevation_m
        if not tanks.bottom_elevation_m <= level <= tanks.top_elevation_m:
            raise ValueError(
                f"operation.pumps: tank_surface_elevation_m of pump {state.pump} is {level:g} m;"
                f" allowed: {tanks.bottom_elevation_m:g} to {tanks.top_elevation_m:g} m"
                " above the keel (ship.cargo_tanks)."
            )


def _check_own_speeds(case: CaseFile) -> None:
    if case.operation.speed == "as stated":
        return
    running = [state.pump for state in case.operation.pumps if state.running]
    for limit in case.own_limits:
        for pump in case.ship.pumps:
            if limit.speed_rpm is not None and pump.key in running and limit.speed_rpm < pump.least_speed_rpm:
                raise ValueError(
                    f"own_limits: speed_rpm of {limit.name} is {limit.speed_rpm:g} rpm, below least_speed_rpm"
                    f" {pump.least_speed_rpm:g} rpm of pump {pump.key}; raise it, or stop the pump."
                )


class CaseError(DocumentError):
    """A case that can't be used; ``problems`` holds one sentence for each thing to correct."""


def read_case(path: Path) -> CaseFile:
    """Read and check a case file; raise DocumentError naming file, key, value, unit and allowed range."""
    return check_case(read_object(path, KIND), path.name)


def parse_case(text: str, name: str) -> CaseFile:
    """Check the text of a case file; ``name`` stands before each sentence of a DocumentError."""
    return check_case(decode_object(text.encode("utf-8", "surrogatepass"), name, KIND), name)


def check_case(document: Any, name: str) -> CaseFile:
    """Check a decoded case document; raise CaseError with every problem found."""
    try:
        return CaseFile.model_validate(document)
    except ValidationError as error:
        raise CaseError([f"{name}: {sentence}" for _, sentence in sentences(error)]) from None


def case_schema() -> dict[str, Any]:
    """Return the JSON Schema of the case file."""
    schema = CaseFile.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Berth Accord case file"
    return schema


def case_document(case: CaseFile) -> dict[str, Any]:
    """Return the case as a JSON document that reads back to the same case."""
    return case.model_dump(mode="json", exclude_none=True)
