"""How the parts of a ship's facts stand in forms; the facts themselves say what is allowed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from shared.curve_rows import first_point_that_rises
from shared.document_plan import Plan
from shared.facts import PipeSegment
from shared.revision_pages import Section, section_of_keys
from shared.surge_facts import ShipSurgeFacts, ValveFacts, WallFacts
from vessels.berthing_forms import BERTHING
from vessels.facts import (
    CurveCoefficients,
    CurvePoint,
    CurvePolynomial,
    ManifoldFacts,
    ParticularFacts,
    PumpCurve,
    PumpFacts,
    ShipFacts,
    TankFacts,
)

ABOVE_KEEL = "Above the keel."
SEGMENT_NOTE = (
    "From the inlet on, one row for each run of one bore. K is the sum of the loss coefficients of bends, valves,"
    " entrance and exit in that run; left empty, it is not known, and answers ask for it."
)


def _line(heading: str, note: str = SEGMENT_NOTE) -> Plan:
    return Plan(
        PipeSegment,
        heading=heading,
        note=note,
        labels={"loss_coefficient": "K"},
        item="run of pipe",
        spare_rows=1,
    )


POINTS = Plan(
    CurvePoint,
    heading="Tested points",
    note=(
        "From the pump's test sheet, in any order. Efficiency, or shaft power with water instead of it, and NPSH"
        " required may stay empty."
    ),
    item="point",
    spare_rows=4,
    in_order_of="flow_m3_per_h",
    check_rows=first_point_that_rises,
)
COEFFICIENTS = Plan(
    CurveCoefficients,
    heading="Or coefficients of H = a − b·Q^c",
    note="Instead of points, for one tested speed only. H in m of liquid, Q in m³/h.",
    optional=True,
    seldom=True,
)
POLYNOMIAL = Plan(
    CurvePolynomial,
    heading="Or a polynomial H = a + b·q + c·q² + d·q³",
    note="Instead of points. H in m of liquid, q the flow in 1,000 m³/h.",
    optional=True,
    seldom=True,
    labels={"shut_off_head_m": "a, head at no flow", "linear_m": "b", "square_m": "c", "cube_m": "d"},
)
CURVE = Plan(
    PumpCurve,
    heading="Curves",
    note="One curve for each speed at which the pump was tested; other speeds follow by the affinity laws.",
    item="tested speed",
    spare_rows=1,
    parts={"points": POINTS, "coefficients": COEFFICIENTS, "polynomial": POLYNOMIAL},
    labels={"speed_rpm": "Tested speed"},
    help_texts={"speed_rpm": ""},
)
PUMP = Plan(
    PumpFacts,
    heading="Cargo pumps",
    item="pump",
    spare_rows=1,
    parts={"curves": CURVE, "suction_line": _line("Suction line"), "discharge_line": _line("Discharge line")},
    help_texts={
        "key": "What the pump is called in short, such as COP1; letters, digits and _ . - only.",
        "name": "",
        "elevation_m": f"Of the impeller's centre. {ABOVE_KEEL}",
        "rated_flow_m3_per_h": "The pump is not run above this flow.",
        "least_continuous_flow_m3_per_h": "Below it the pump is not to run for long.",
        "greatest_continuous_flow_m3_per_h": "Above it the pump is not to run for long.",
        "least_speed_rpm": "Slowest speed at which it is run.",
        "greatest_speed_rpm": "Fastest speed at which it is run.",
    },
)
PARTICULARS = Plan(ParticularFacts, heading="Size", note="For the checks of the berth; what is not known stays empty.")
MANIFOLD = Plan(
    ManifoldFacts,
    heading="Manifold",
    help_texts={"elevation_m": f"Of the flange's centre. {ABOVE_KEEL}"},
)
TANKS = Plan(
    TankFacts,
    heading="Cargo tanks",
    note="Lowest and highest liquid surface in any of them; both stay empty if not known.",
    optional=True,
    help_texts={"bottom_elevation_m": ABOVE_KEEL, "top_elevation_m": ABOVE_KEEL},
)
_SHIP_HELP = {
    "name": "",
    "imo_number": "Seven digits.",
    "source": "Where these data come from: test sheets, piping plan, with date.",
    "inert_gas_delivery_m3_per_h": "What the plant delivers; the pumps can't draw more than it replaces.",
    "cargo_line_rating_bar_gauge": "Highest working pressure of the ship's own lines, from the pumps to the manifold.",
    "ship_line_velocity_limit_m_per_s": "Highest velocity that the operator allows in the ship's cargo lines.",
}
_PARTICULAR_KEYS = ("name", "imo_number", "source", "inert_gas_delivery_m3_per_h")
_LINE_KEYS = ("cargo_line_rating_bar_gauge", "ship_line_velocity_limit_m_per_s")
COMMON_LINE = _line("Common line", f"From where the pumps' discharge lines meet to the manifold. {SEGMENT_NOTE}")

SURGE = Plan(
    ShipSurgeFacts,
    heading="For pressure surge",
    note="Wall of the common line and manifold valve; without them, surge on the ship's side is not decided.",
    parts={
        "common_line_wall": Plan(WallFacts, heading="Wall of the common line", optional=True),
        "manifold_valve": Plan(ValveFacts, heading="Valve at the manifold", optional=True),
    },
    optional=True,
    seldom=True,
)

PARTICULARS_SECTION = section_of_keys(
    "Particulars, manifold and tanks",
    Plan(
        ShipFacts,
        keys=_PARTICULAR_KEYS,
        parts={"particulars": PARTICULARS, "manifold": MANIFOLD, "cargo_tanks": TANKS},
        help_texts=_SHIP_HELP,
    ),
)
COMMON_LINE_SECTION = section_of_keys(
    "Common line",
    Plan(ShipFacts, keys=_LINE_KEYS, parts={"common_line": COMMON_LINE, "surge": SURGE}, help_texts=_SHIP_HELP),
)
BERTHING_SECTION = section_of_keys(
    "For berths", Plan(ShipFacts, keys=(), parts={"berthing": replace(BERTHING, seldom=False)})
)
WHOLE_SHIP = Plan(
    ShipFacts,
    keys=(*_PARTICULAR_KEYS, *_LINE_KEYS),
    parts={
        "particulars": PARTICULARS,
        "manifold": MANIFOLD,
        "cargo_tanks": TANKS,
        "pumps": PUMP,
        "common_line": COMMON_LINE,
        "surge": SURGE,
        "berthing": BERTHING,
    },
    help_texts=_SHIP_HELP,
)


def pump_section(facts: ShipFacts, key: str) -> Section:
    """Return the section that edits one pump; ``key`` is looked up again in whatever revision is saved to."""

    def place_in(whole: dict[str, Any]) -> int:
        keys = [pump["key"] for pump in whole["pumps"]]
        return keys.index(key) if key in keys else len(keys)

    def put(whole: dict[str, Any], stated: dict[str, Any]) -> dict[str, Any]:
        place = place_in(whole)
        return whole | {"pumps": [*whole["pumps"][:place], stated, *whole["pumps"][place + 1 :]]}

    def take(ship: ShipFacts) -> PumpFacts | None:
        return next((pump for pump in ship.pumps if pump.key == key), None)

    place = next((number for number, pump in enumerate(facts.pumps) if pump.key == key), len(facts.pumps))
    return Section(f"Pump {key}", PUMP, take=take, put=put, at=("pumps", place))


def new_pump_section(facts: ShipFacts, copied: PumpFacts | None) -> Section:
    """Return the section that adds a pump, filled with a copy of another one if that is asked for."""

    def put(whole: dict[str, Any], stated: dict[str, Any]) -> dict[str, Any]:
        return whole | {"pumps": [*whole["pumps"], stated]}

    return Section("New pump", PUMP, take=lambda _: copied, put=put, at=("pumps", len(facts.pumps)))


def copy_of(pump: PumpFacts, facts: ShipFacts) -> PumpFacts:
    """Return a pump with the same data under the next free key."""
    taken = {other.key for other in facts.pumps}
    stem = pump.key.rstrip("0123456789")
    number = next(number for number in range(2, 100) if f"{stem}{number}"[:20] not in taken)
    return pump.model_copy(update={"key": f"{stem}{number}"[:20], "name": f"{pump.name} (copy)"[:120]})
