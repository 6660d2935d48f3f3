"""Ships at berths to be solved by other means than our own: each states in which flow regime all its pipes are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

Document = dict[str, Any]
Regime = Literal["turbulent", "laminar", "laminar and turbulent", "transition"]

POINTS_A = [(0, 160), (500, 158.5), (1000, 154), (1500, 146), (2000, 134), (2500, 118)]
POINTS_B = [(0, 150), (400, 149), (900, 143), (1400, 131), (1800, 117)]
POINTS_C = [(0, 128), (250, 126), (500, 119), (750, 106), (900, 95)]


@dataclass(frozen=True, eq=False)
class System:
    """A case to be solved, and where its Reynolds numbers lie: >= 4,000, <= 2,000, both, or between in some pipe."""

    name: str
    regime: Regime
    document: Document


def pipe(length: float, bore: float, k: float = 0.0, roughness: float = 0.05, **more: Any) -> Document:
    """A run of pipe: metres, millimetres, loss coefficient, millimetres."""
    return {"length_m": length, "bore_mm": bore, "roughness_mm": roughness, "loss_coefficient": k, **more}


def points(pairs: list[tuple[float, float]], speed: float = 1250.0) -> Document:
    """A pump curve by points (m³/h, m)."""
    return {"speed_rpm": speed, "points": [{"flow_m3_per_h": q, "head_m": h} for q, h in pairs]}


def coefficients(shut_off: float, at_flow: tuple[float, float], exponent: float, speed: float = 1250.0) -> Document:
    """A pump curve H = a - b Q^c through its shut-off head and one more point (m³/h, m)."""
    drop = (shut_off - at_flow[1]) / at_flow[0] ** exponent
    stated = {"shut_off_head_m": shut_off, "drop_at_1_m3_per_h_m": drop, "exponent": exponent}
    return {"speed_rpm": speed, "coefficients": stated}


def pump(key: str, curve: Document, **changes: Any) -> Document:
    """A pump with 40 m of suction line and a riser of its own."""
    stated: Document = {
        "key": key,
        "name": f"No. {key}",
        "curves": [curve],
        "least_speed_rpm": 300.0,
        "greatest_speed_rpm": 1500.0,
        "elevation_m": 2.5,
        "suction_line": [pipe(40, 550, 2.0)],
        "discharge_line": [pipe(30, 400, 3.0)],
    }
    return {**stated, **changes}


def alike(count: int, **changes: Any) -> list[Document]:
    """Several pumps of one kind."""
    return [pump(f"P{i + 1}", points(POINTS_A), **changes) for i in range(count)]


def arm(count: int, bore: float = 300.0, length: float = 25.0, k: float = 2.5, **more: Any) -> Document:
    """Loading arms or hoses of one kind."""
    return pipe(length, bore, k, name=f"arm {bore:g} x {length:g}", count=count, **more)


SHORE = [
    pipe(400, 600, 2.0, 0.1, name="jetty", end_elevation_m=5.0),
    pipe(1500, 600, 2.0, 0.1, name="ridge", end_elevation_m=18.0),
    pipe(800, 500, 3.0, 0.1, name="tank farm", end_elevation_m=12.0),
]


def document(
    pumps: list[Document],
    *,
    speeds: float | list[float | None] = 1200.0,
    levels: float | list[float] = 14.0,
    gas: float | list[float] = 0.05,
    arms: list[Document] | None = None,
    shore: list[Document] | None = None,
    tank: float = 20.0,
    tank_gas: float = 0.0,
    back_pressure: float | None = None,
    common: list[Document] | None = None,
    density: float = 850.0,
    viscosity: float = 8.0,
) -> Document:
    """A whole case at stated speeds; a speed of None is a stopped pump."""

    def each(value: Any) -> list[Any]:
        return value if isinstance(value, list) else [value] * len(pumps)

    states = [
        {
            "pump": p["key"],
            "running": speed is not None,
            "tank_surface_elevation_m": level,
            "tank_gas_pressure_bar_gauge": pressure,
            **({} if speed is None else {"speed_rpm": speed}),
        }
        for p, speed, level, pressure in zip(pumps, each(speeds), each(levels), each(gas), strict=True)
    ]
    end = (
        {"tank": {"surface_elevation_m": tank, "gas_pressure_bar_gauge": tank_gas}}
        if back_pressure is None
        else {"back_pressure_bar_gauge": back_pressure}
    )
    return {
        "format": "berth-accord-case/1",
        "keel_elevation_m": -9.0,
        "ship": {
            "name": "Marlis",
            "pumps": pumps,
            "common_line": [pipe(120, 550, 4.0)] if common is None else common,
            "manifold": {"elevation_m": 21.0},
        },
        "cargo": {"name": "cargo", "density_kg_per_m3": density, "kinematic_viscosity_mm2_per_s": viscosity},
        "berth": {
            "name": "East jetty",
            "arms": [arm(2)] if arms is None else arms,
            "arm_shore_end_elevation_m": 6.0,
            "shore_line": SHORE if shore is None else shore,
            "shore_end": end,
        },
        "operation": {"speed": "as stated", "pumps": states},
        "agreed": {},
    }


def line(*runs: tuple[float, float, float]) -> list[Document]:
    """A shore line of (length m, bore mm, end elevation m)."""
    return [
        pipe(length, bore, 3.0, 0.1, name=f"run {i + 1}", end_elevation_m=z) for i, (length, bore, z) in enumerate(runs)
    ]


STRONG, MIDDLE, WEAK = points(POINTS_A), points(POINTS_B, 1180.0), points(POINTS_C, 1450.0)
ALGEBRAIC = coefficients(155.0, (1800.0, 112.0), 1.85)
UNLIKE = [pump("P1", STRONG), pump("P2", MIDDLE, discharge_line=[pipe(45, 350, 5.0)]), pump("P3", ALGEBRAIC)]
UNLIKE_ARMS = [arm(2, 300.0), arm(1, 250.0, 32.0, 4.0), arm(1, 200.0, 60.0, 1.5, roughness=0.02)]
WIDE = [pipe(120, 700, 4.0)]
NARROW = line((600, 400, 5), (1800, 350, 14), (700, 400, 12))

SYSTEMS = [
    System("one pump", "turbulent", document(alike(1), shore=NARROW)),
    System("two alike pumps", "turbulent", document(alike(2))),
    System("three alike pumps", "turbulent", document(alike(3))),
    System("four alike pumps, three arms", "turbulent", document(alike(4), arms=[arm(3)], common=WIDE)),
    System("one of three pumps stopped", "turbulent", document(alike(3), speeds=[1200.0, None, 1200.0])),
    System(
        "three of four pumps stopped", "turbulent", document(alike(4), speeds=[None, None, 1250.0, None], shore=NARROW)
    ),
    System("alike pumps at unlike speeds", "turbulent", document(alike(3), speeds=[1250.0, 1210.0, 1170.0])),
    System("three unlike pumps", "turbulent", document(UNLIKE)),
    System("unlike pumps at unlike speeds", "turbulent", document(UNLIKE, speeds=[1150.0, 1200.0, 1240.0])),
    System("unlike pumps, one stopped", "turbulent", document(UNLIKE, speeds=[1150.0, None, 1200.0])),
    System(
        "two strong pumps shut out a weak one by its non-return valve",
        "turbulent",
        document([*alike(2), pump("P3", WEAK)], speeds=[1250.0, 1250.0, 1100.0], tank=45.0),
    ),
    System("algebraic curve, exponent 1.85", "turbulent", document([pump("P1", ALGEBRAIC)])),
    System("unlike tank levels", "turbulent", document(alike(3), levels=[17.0, 9.0, 3.5])),
    System("unlike gas pressures", "turbulent", document(alike(3), gas=[0.14, 0.02, -0.2])),
    System(
        "unlike pumps, levels and gas", "turbulent", document(UNLIKE, levels=[15.0, 6.0, 11.0], gas=[0.1, 0.0, 0.05])
    ),
    System("unlike arms", "turbulent", document(alike(2), arms=UNLIKE_ARMS)),
    System("unlike arms, unlike pumps", "turbulent", document(UNLIKE, arms=UNLIKE_ARMS[1:])),
    System("four small hoses", "turbulent", document(alike(1), speeds=900.0, arms=[arm(4, 110.0, 30.0, 1.0)])),
    System("eight kilometres", "turbulent", document(alike(2), shore=line((500, 600, 5), (7500, 600, 9)))),
    System(
        "twelve kilometres over two hills",
        "turbulent",
        document(
            alike(2),
            shore=line((800, 500, 4), (3200, 550, 35), (4000, 550, 2), (3000, 600, 28), (1000, 500, 10)),
            tank=18.0,
        ),
    ),
    System("high tank", "turbulent", document(alike(3), tank=75.0)),
    System("tank below the ship", "turbulent", document(alike(1), speeds=700.0, tank=-2.0, levels=16.0, shore=NARROW)),
    System("gas pressure on the shore tank", "turbulent", document(alike(2), tank=12.0, tank_gas=3.2)),
    System("stated back-pressure, no shore line", "turbulent", document(alike(2), shore=[], back_pressure=6.5)),
    System(
        "stated back-pressure behind a line",
        "turbulent",
        document(UNLIKE, shore=line((900, 500, 8)), back_pressure=5.0),
    ),
    System("gasoline", "turbulent", document(alike(2), density=735.0, viscosity=0.6)),
    System("fresh water", "turbulent", document(UNLIKE, density=999.1, viscosity=1.14)),
    System("crude of 60 mm²/s", "turbulent", document(alike(3), density=905.0, viscosity=60.0)),
    System(
        "rough old line",
        "turbulent",
        document(alike(2), shore=[pipe(2500, 500, 5.0, 1.0, name="old", end_elevation_m=12.0)]),
    ),
    System("no lines on board", "turbulent", document(alike(2, suction_line=[], discharge_line=[]), common=[])),
    System("laminar, one pump", "laminar", document(alike(1), density=965.0, viscosity=1200.0)),
    System("laminar, two alike pumps", "laminar", document(alike(2), density=965.0, viscosity=2000.0)),
    System(
        "laminar, unlike pumps", "laminar", document(UNLIKE, density=960.0, viscosity=2500.0, levels=[15.0, 6.0, 11.0])
    ),
    System("laminar, unlike arms", "laminar", document(alike(2), density=970.0, viscosity=3000.0, arms=UNLIKE_ARMS)),
    System(
        "laminar, long line", "laminar", document(alike(2), density=950.0, viscosity=1500.0, shore=line((5000, 600, 9)))
    ),
    System(
        "laminar, high tank, gas",
        "laminar",
        document(alike(2), density=955.0, viscosity=2200.0, tank=60.0, tank_gas=0.5),
    ),
    System("laminar, slow pump", "laminar", document(alike(1), density=940.0, viscosity=900.0, speeds=650.0, tank=5.0)),
    System(
        "laminar, back-pressure",
        "laminar",
        document(UNLIKE, density=975.0, viscosity=2500.0, shore=[], back_pressure=9.0),
    ),
    System(
        "turbulent arms, laminar line",
        "laminar and turbulent",
        document(
            alike(1, suction_line=[], discharge_line=[]),
            density=930.0,
            viscosity=250.0,
            common=[],
            arms=[arm(1, 200.0)],
            shore=[pipe(900, 1500, 3.0, 0.1, name="wide", end_elevation_m=9.0)],
        ),
    ),
    System("transition, one pump", "transition", document(alike(1), density=940.0, viscosity=500.0, shore=NARROW)),
    System("transition, two pumps", "transition", document(alike(2), density=950.0, viscosity=550.0)),
    System(
        "transition, unlike pumps and arms",
        "transition",
        document(UNLIKE, density=950.0, viscosity=800.0, arms=UNLIKE_ARMS),
    ),
    System(
        "transition, long line",
        "transition",
        document(alike(2), density=945.0, viscosity=400.0, shore=line((6000, 600, 9))),
    ),
]


# H = 150 - 1.2e-6 Q² at 1,000 rpm against 40 + 2.0e-6 Q², Q in m³/h: the operating point is a square root.
SHUT_OFF_M, DROP, STATIC_M, RESISTANCE = 150.0, 1.2e-6, 40.0, 2.0e-6


def closed_form(count: int = 1, **changes: Any) -> Document:
    """Pumps of that curve, without lines of their own, against that system; the manifold stands 10 m over the zero."""
    curve = {
        "speed_rpm": 1000.0,
        "coefficients": {"shut_off_head_m": SHUT_OFF_M, "drop_at_1_m3_per_h_m": DROP, "exponent": 2.0},
    }
    area_m2 = math.pi * 1.0**2 / 4.0
    k = RESISTANCE * 3600.0**2 * area_m2**2 * 2.0 * 9.80665
    pumps = [
        pump(f"P{i + 1}", curve, suction_line=[], discharge_line=[], least_speed_rpm=400.0, greatest_speed_rpm=1100.0)
        for i in range(count)
    ]
    stated = document(
        pumps, levels=9.0, gas=0.0, common=[], shore=[], back_pressure=0.0, **{"speeds": 1000.0, **changes}
    )
    stated["ship"]["manifold"]["elevation_m"] = 19.0
    stated["berth"]["arms"] = [arm(1, 1000.0, 0.0, k)]
    stated["berth"]["arm_shore_end_elevation_m"] = STATIC_M
    return stated
