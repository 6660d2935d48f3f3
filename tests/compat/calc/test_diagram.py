"""The operating diagram meets the operating point, and its lines are the pumps' and the shore's."""

from __future__ import annotations

import numpy as np
import pytest

from compat.calc.diagram import operating_diagram
from compat.calc.operating_point import point_at_speeds
from compat.case.case_arrays import arrays_of
from compat.case.case_file import check_case
from tests.compat.systems import DROP, RESISTANCE, SHUT_OFF_M, STATIC_M, SYSTEMS, System, closed_form

HOUR_S = 3600.0


def test_lines_of_the_closed_form() -> None:
    """Two pumps: H = 150 s² - (1.2e-6 / 4) Q² over the zero; shore: 40 + 2e-6 Q²; the manifold stands 10 m up."""
    built = arrays_of([check_case(closed_form(2), "case")])
    drawn = operating_diagram(built.system, point_at_speeds(built.system, built.stated_rpm), (1.0, 0.8))
    flow = drawn.shore_flow_m3_per_s * HOUR_S
    np.testing.assert_allclose(drawn.shore_head_m, STATIC_M + RESISTANCE * flow**2 - 10.0, rtol=1e-9)
    for line, share in zip(drawn.pumps, (1.0, 0.8), strict=True):
        assert line.speed_fraction == share
        flow = line.flow_m3_per_s * HOUR_S
        expected = SHUT_OFF_M * share**2 - DROP / 4.0 * flow**2 - 10.0
        np.testing.assert_allclose(line.manifold_head_m, expected, atol=1e-5)
    assert drawn.pascal_per_m == pytest.approx(850.0 * 9.80665)


@pytest.mark.parametrize("system", SYSTEMS[::3], ids=lambda system: system.name)
def test_pumps_and_shore_meet_at_the_operating_point(system: System) -> None:
    built = arrays_of([check_case(system.document, system.name)])
    point = point_at_speeds(built.system, built.stated_rpm)
    drawn = operating_diagram(built.system, point)
    assert drawn.flow_m3_per_s == pytest.approx(point.flow_m3_per_s[0])
    shore = np.interp(drawn.flow_m3_per_s, drawn.shore_flow_m3_per_s, drawn.shore_head_m)
    assert shore == pytest.approx(drawn.head_m, rel=5e-3)
    full = drawn.pumps[0]
    assert (np.diff(full.flow_m3_per_s) >= 0).all()
    assert (np.diff(full.manifold_head_m) < 0).all()
    pumps = np.interp(drawn.flow_m3_per_s, full.flow_m3_per_s, full.manifold_head_m)
    assert pumps == pytest.approx(drawn.head_m, rel=5e-3)
