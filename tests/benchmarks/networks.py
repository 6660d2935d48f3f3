"""The same case given to EPANET: one run through wntr, and a search on an opened network with its in-memory toolkit."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import wntr
from scipy.optimize import brentq

from compat.case.case_file import CaseFile
from tests.compat import epanet

_INIT_SETTING, _PRESSURE = 5, 11  # codes of EPANET's toolkit for a link's setting and a node's pressure
PRESSURE_TOLERANCE_BAR = 1e-4


class OpenedNetwork:
    """A case opened once in EPANET's toolkit, to be solved again and again at other pump speeds."""

    def __init__(self, case: CaseFile, speed_rpm: dict[str, float], prefix: Path) -> None:
        builder = epanet.network_of(case, speed_rpm)
        text = f"{prefix}.inp"
        wntr.network.write_inpfile(builder.network, text, units="CMH", version=2.2)
        self.toolkit: Any = wntr.epanet.toolkit.ENepanet(version=2.2)
        self.toolkit.ENopen(text, f"{prefix}.rpt", f"{prefix}.bin")
        self.toolkit.ENopenH()
        self.pumps = [
            (self.toolkit.ENgetlinkindex(f"pump-{pump.key}"), pump.curves[0].speed_rpm) for pump in case.ship.pumps
        ]
        self.manifold = self.toolkit.ENgetnodeindex(builder.profile[0])
        self.solves = 0

    def manifold_bar_gauge(self, speed_rpm: float) -> float:
        """Solve at a common speed; EPANET gives pressures in metres of water."""
        for link, tested in self.pumps:
            self.toolkit.ENsetlinkvalue(link, _INIT_SETTING, speed_rpm / tested)
        self.toolkit.ENinitH(0)
        self.toolkit.ENrunH()
        self.solves += 1
        return float(self.toolkit.ENgetnodevalue(self.manifold, _PRESSURE)) * 1000.0 * epanet.GRAVITY / 1e5

    def close(self) -> None:
        """Let the toolkit go."""
        self.toolkit.ENcloseH()
        self.toolkit.ENclose()


@dataclass(frozen=True)
class Search:
    """The speed found, and how many solves it took."""

    speed_rpm: float
    solves: int


def search_speed(network: OpenedNetwork, pressure_bar: float, least_rpm: float, greatest_rpm: float) -> Search:
    """Return the common speed at which the manifold is at a pressure, by Brent's method on the opened network."""
    network.solves = 0
    slack = (greatest_rpm - least_rpm) * 1e-6

    def excess(speed: float) -> float:
        found = network.manifold_bar_gauge(speed) - pressure_bar
        return 0.0 if abs(found) < PRESSURE_TOLERANCE_BAR else found

    speed = brentq(excess, least_rpm, greatest_rpm, xtol=slack)
    return Search(float(speed), network.solves)
