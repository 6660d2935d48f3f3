"""One case of the demo scenario as a case file, to try the command with."""

from __future__ import annotations

from compat.case.case_file import CaseFile
from compat.case.composing import compose_case
from compat.demo.berths import ellery_crude_jetty
from compat.demo.ships import crude_tanker
from compat.demo.transfers import CRUDE_TO_JETTY


def example_case() -> CaseFile:
    """Return the crude tanker at the crude jetty."""
    ship, berth = crude_tanker(), ellery_crude_jetty()
    return compose_case(ship, berth.facts, CRUDE_TO_JETTY.setting([pump.key for pump in ship.pumps]))
