"""The operating diagram of a case, drawn from its own solve (pure: no Django)."""

from __future__ import annotations

import numpy as np

from compat.calc.diagram import OperatingDiagram, operating_diagram
from compat.calc.operating_point import point_at_speeds
from compat.case.case_arrays import arrays_of
from compat.case.case_file import CaseFile
from compat.case.eductors import with_drives
from compat.case.pump_arrays import pump_kinds


def case_diagram(case: CaseFile, speed_rpm_by_pump: dict[str, float]) -> OperatingDiagram:
    """Return the diagram of a case at the answered speed of each running pump, by key."""
    speeds = np.array([[speed_rpm_by_pump[kind.keys[0]] for kind in pump_kinds(case)]])
    arrays, point = with_drives(arrays_of([case]), lambda now: point_at_speeds(now.system, speeds), lambda found: found)
    return operating_diagram(arrays.system, point)
