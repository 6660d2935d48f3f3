"""The one table of values that ship and terminal agree (pure data).

Ranges are those in which a number is believed, not limits of a rule. What a meeting has to settle follows
33 CFR 156.120(w).
"""

from __future__ import annotations

from compat.accord.value_kinds import ValueDefinition
from compat.accord.value_table import conduct, flow

TABLE: tuple[ValueDefinition, ...] = (
    flow.RATES
    + flow.PUMPS
    + conduct.STOPPING
    + conduct.COMMUNICATION
    + conduct.WATCH
    + conduct.WEATHER
    + conduct.SAMPLING
    + conduct.USED_UNITS
)
