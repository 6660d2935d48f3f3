"""The operating diagram as a document: what pages draw and what goes into a plan (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from compat.case.case_diagram import case_diagram
from compat.case.case_file import CaseFile
from shared.calc.units import BAR_PA, HOUR_S

_FLOW_DECIMALS = 1
_PRESSURE_DECIMALS = 3


def diagram_document(case: CaseFile, answer: Mapping[str, Any]) -> dict[str, Any] | None:
    """Return the lines of the operating diagram as gauge pressure at the manifold over rate, or None without a point.

    ``answer`` is the answer document of this case. Rates are in m³/h, pressures in bar gauge.
    """
    if answer["outcome"] == "no operating point":
        return None
    speeds = {pump["pump"]: pump["speed_rpm"] for pump in answer["pumps"] if pump["running"]}
    drawn = case_diagram(case, speeds)

    def line(flows: Iterable[float], heads: Iterable[float]) -> dict[str, list[float]]:
        return {
            "flow_m3_per_h": [round(float(flow) * HOUR_S, _FLOW_DECIMALS) for flow in flows],
            "pressure_bar_gauge": [
                round(float(head) * drawn.pascal_per_m / BAR_PA, _PRESSURE_DECIMALS) for head in heads
            ],
        }

    return {
        "pumps": [
            {
                "speed_fraction": round(pumps.speed_fraction, 4),
                "speed_rpm": _speed_rpm(answer, pumps.speed_fraction),
                **line(pumps.flow_m3_per_s, pumps.manifold_head_m),
            }
            for pumps in drawn.pumps
        ],
        "shore": line(drawn.shore_flow_m3_per_s, drawn.shore_head_m),
        "point": line([drawn.flow_m3_per_s], [drawn.head_m]),
        "agreed_pressure_bar_gauge": case.agreed.manifold_pressure_bar_gauge,
        "highest_rate_m3_per_h": case.agreed.highest_rate_m3_per_h,
    }


def _speed_rpm(answer: Mapping[str, Any], fraction: float) -> float | None:
    """Return the speed that all running pumps share on a line, or None where they differ."""
    common = answer["common_speed_rpm"]
    return None if common is None else round(common * fraction, 1)
