"""The transfers of the demo scenario: cargoes, and the setting of each assessment. Figures are invented.

Water levels and draughts are of a usual kind for the place and the state of loading. Rates come from the engine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from compat.case.case_file import AgreedFacts, OperationFacts, PumpState
from compat.case.composing import Setting, keel_elevation_m
from compat.fit.visit import VisitFacts
from compat.screening.terms import ScreeningTerms
from shared.cargo_facts import CargoFacts

LINNET, WREN, SKERRY = "Calder Linnet", "Calder Wren", "Brannoch Skerry"
BERTH_1, BERTH_2, CRUDE_JETTY = "Berth 1", "Berth 2", "Crude jetty"
NORTH_BERTH, SEA_ISLAND = "North berth", "Sea island"

GAS_OIL = CargoFacts(
    name="Gas oil",
    density_kg_per_m3=838.0,
    kinematic_viscosity_mm2_per_s=4.4,
    temperature_c=18.0,
    vapour_pressure_kpa_abs=0.6,
    bulk_modulus_mpa=1_450.0,
    quantity_m3=46_000.0,
)
GASOLINE = CargoFacts(
    name="Motor gasoline",
    density_kg_per_m3=742.0,
    kinematic_viscosity_mm2_per_s=0.65,
    temperature_c=18.0,
    vapour_pressure_kpa_abs=52.0,
    bulk_modulus_mpa=1_050.0,
    quantity_m3=48_000.0,
)
KEROSENE = CargoFacts(
    name="Kerosene",
    density_kg_per_m3=802.0,
    kinematic_viscosity_mm2_per_s=1.9,
    temperature_c=15.0,
    vapour_pressure_kpa_abs=0.9,
    quantity_m3=7_600.0,
)
CRUDE_OIL = CargoFacts(
    name="Crude oil",
    density_kg_per_m3=868.0,
    kinematic_viscosity_mm2_per_s=14.0,
    temperature_c=30.0,
    vapour_pressure_kpa_abs=62.0,
    bulk_modulus_mpa=1_400.0,
    quantity_m3=118_000.0,
)


@dataclass(frozen=True)
class Transfer:
    """One ship with one cargo at one berth, as somebody assesses it; ``arms`` counts each kind of arm or hose."""

    title: str
    ship: str
    berth: str
    cargo: CargoFacts
    water_level_m: float
    draught_m: float
    tank_level_m: float
    gas_pressure_bar_gauge: float
    pumps: int
    arms: tuple[int, ...]
    pressure_bar_gauge: float
    speed_rpm: float | None = None

    def with_arms(self, arms: tuple[int, ...]) -> Transfer:
        """Return the same transfer with other arms or hoses connected."""
        words = " and ".join(str(count) for count in arms)
        return replace(self, title=f"{self.title}, {words} connected", arms=arms)

    def setting(self, pump_keys: Sequence[str], arrives_on: date | None = None) -> Setting:
        """Return the setting, for a ship that has these pumps; the first ones run."""
        states = [
            PumpState(
                pump=key,
                running=number < self.pumps,
                speed_rpm=self.speed_rpm,
                tank_surface_elevation_m=self.tank_level_m,
                tank_gas_pressure_bar_gauge=self.gas_pressure_bar_gauge,
            )
            for number, key in enumerate(pump_keys)
        ]
        return Setting(
            title=self.title,
            cargo=self.cargo,
            keel_elevation_m=keel_elevation_m(self.water_level_m, self.draught_m),
            arms_connected=self.arms,
            operation=OperationFacts(speed="as stated" if self.speed_rpm else "one common speed", pumps=states),
            agreed=AgreedFacts(manifold_pressure_bar_gauge=self.pressure_bar_gauge),
            visit=VisitFacts(
                arrives_on=arrives_on,
                arrival_hour_h=None if arrives_on is None else 10.0,
                stay_h=36.0,
                arrival_draught_m=self.draught_m,
                water_level_m=self.water_level_m,
                tank_washing="none",
                grades=1,
            ),
        )


GAS_OIL_TO_BERTH_1 = Transfer(
    "Calder Linnet at Ellery Berth 1, gas oil", LINNET, BERTH_1, GAS_OIL, 2.6, 10.4, 11.0, 0.06, 6, (3,), 9.0
)
GAS_OIL_TO_NORTH_BERTH = Transfer(
    "Calder Linnet at Skarra North berth, gas oil", LINNET, NORTH_BERTH, GAS_OIL, 1.4, 10.4, 11.0, 0.06, 6, (2,), 9.0
)
GASOLINE_TO_SEA_ISLAND = Transfer(
    "Calder Linnet at Skarra Sea island, gasoline", LINNET, SEA_ISLAND, GASOLINE, 1.4, 10.1, 11.0, 0.06, 6, (2, 0), 8.0
)
KEROSENE_TO_BERTH_2 = Transfer(
    "Calder Wren at Ellery Berth 2, kerosene", WREN, BERTH_2, KEROSENE, 2.2, 6.1, 5.8, 0.03, 4, (2,), 7.0
)
KEROSENE_TO_SEA_ISLAND = Transfer(
    "Calder Wren at Skarra Sea island, kerosene", WREN, SEA_ISLAND, KEROSENE, 1.4, 6.1, 5.8, 0.03, 2, (0, 1), 8.0
)
CRUDE_TO_JETTY = Transfer(
    "Brannoch Skerry at Ellery Crude jetty, crude oil",
    SKERRY,
    CRUDE_JETTY,
    CRUDE_OIL,
    1.9,
    12.0,
    13.0,
    0.08,
    3,
    (3,),
    9.0,
)
CRUDE_AT_STATED_SPEED = Transfer(
    "Brannoch Skerry at Ellery Crude jetty, 1,150 rpm",
    SKERRY,
    CRUDE_JETTY,
    CRUDE_OIL,
    1.9,
    12.0,
    13.0,
    0.08,
    3,
    (3,),
    9.0,
    1150.0,
)
CRUDE_AGAINST_TOO_LOW_A_PRESSURE = Transfer(
    "Brannoch Skerry at Ellery Crude jetty, 2.5 bar asked",
    SKERRY,
    CRUDE_JETTY,
    CRUDE_OIL,
    1.9,
    12.0,
    13.0,
    0.08,
    3,
    (3,),
    2.5,
)
CRUDE_TO_SEA_ISLAND = Transfer(
    "Brannoch Skerry at Skarra Sea island, crude oil",
    SKERRY,
    SEA_ISLAND,
    CRUDE_OIL,
    1.4,
    12.0,
    13.0,
    0.08,
    3,
    (2, 1),
    8.5,
)
CRUDE_LOW_IN_THE_TANKS = Transfer(
    "Brannoch Skerry at Skarra Sea island, low tanks, two pumps",
    SKERRY,
    SEA_ISLAND,
    CRUDE_OIL,
    1.4,
    8.4,
    3.4,
    0.08,
    2,
    (2, 1),
    8.5,
)

BY_SHIP_A = (
    GAS_OIL_TO_BERTH_1,
    GAS_OIL_TO_NORTH_BERTH,
    GASOLINE_TO_SEA_ISLAND,
    KEROSENE_TO_BERTH_2,
    KEROSENE_TO_SEA_ISLAND,
)
BY_SHIP_B = (
    CRUDE_TO_JETTY,
    CRUDE_AT_STATED_SPEED,
    CRUDE_AGAINST_TOO_LOW_A_PRESSURE,
    CRUDE_TO_SEA_ISLAND,
    CRUDE_LOW_IN_THE_TANKS,
)
ALL_TRANSFERS = (*BY_SHIP_A, *BY_SHIP_B)


def screening_terms(arrives_on: date) -> ScreeningTerms:
    """Return the terms of the demo's screening: 7,000 m³ of gas oil or gasoline, at an agreed 8 bar."""
    return ScreeningTerms(
        cargoes=[cargo.model_copy(update={"quantity_m3": 7_000.0}) for cargo in (GAS_OIL, GASOLINE)],
        draught="as stated below",
        arrival_draught_m=7.4,
        tank_filling_percent=55.0,
        tank_gas_pressure_bar_gauge=0.05,
        manifold_pressure_bar_gauge=8.0,
        arrives_on=arrives_on,
        arrival_hour_h=10.0,
        stay_h=30.0,
        tank_washing="none",
        grades=1,
    )
