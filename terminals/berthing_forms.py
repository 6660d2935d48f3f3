"""How the facts about ships at a berth stand in forms."""

from __future__ import annotations

from shared.berthing_facts import ReducerFacts
from shared.document_plan import Plan
from terminals.berthing_facts import (
    BerthBerthingFacts,
    BerthStatement,
    CargoTaken,
    CertificateAsked,
    Hooks,
    MooringNeeds,
    OwnRule,
    ReachFacts,
    ServiceFacts,
    SizeRangeFacts,
    Unlimited,
    WaterFacts,
)

RANGE = Plan(SizeRangeFacts, heading="Least size, and displacement")
WATER = Plan(
    WaterFacts,
    heading="Water, keel and what is overhead",
    note="Local rules on the under-keel clearance come first; where several are stated, the greatest counts.",
)
REACH = Plan(ReachFacts, heading="Reach of arms and hoses, fenders")
MOORING = Plan(MooringNeeds, heading="Lines that are asked for")
SERVICES = Plan(ServiceFacts, heading="What is done at the berth")
HOOKS = Plan(
    Hooks,
    heading="Mooring hooks and bollards",
    note="One row for each place; where positions are known, the directions of the lines are looked at as well.",
    item="place",
    labels={"count": "Hooks"},
    optional=True,
)
REDUCERS = Plan(
    ReducerFacts,
    heading="Reducers ashore",
    note="Own side bolts to the arm or hose, the other side is what it then offers to the ship.",
    item="reducer",
    labels={
        "own_size_mm": "Own side, size",
        "own_flange": "Own side, flange",
        "other_size_mm": "Other side, size",
        "other_flange": "Other side, flange",
        "count": "How many",
    },
    optional=True,
)
CARGOES = Plan(CargoTaken, heading="Cargoes that the berth takes", item="cargo", optional=True)
CERTIFICATES_ASKED = Plan(
    CertificateAsked, heading="Certificates that are asked for", item="certificate", optional=True
)
OWN_RULES = Plan(
    OwnRule,
    heading="The terminal's own rules",
    note="Age and other limits: a fact compared with a number, and what happens to a ship outside.",
    item="rule",
    optional=True,
)
UNLIMITED = Plan(
    Unlimited,
    heading="What the terminal does not limit",
    note="A limit that stays empty is not known, and its check not decided; what is named here has no limit.",
    item="limit",
    labels={"on": "No limit on"},
    optional=True,
)
STATEMENTS = Plan(
    BerthStatement,
    heading="How sure",
    note="For facts that are more or less sure than stated: who said so, and when.",
    item="fact",
    labels={"sure": "How sure"},
    optional=True,
)
BERTHING = Plan(
    BerthBerthingFacts,
    heading="Ships at this berth",
    note="Every signed-in organisation sees these, so that a ship can be judged before she is fixed.",
    parts={
        "range": RANGE,
        "water": WATER,
        "reach": REACH,
        "mooring": MOORING,
        "services": SERVICES,
        "hooks": HOOKS,
        "reducers": REDUCERS,
        "cargoes": CARGOES,
        "certificates": CERTIFICATES_ASKED,
        "own_rules": OWN_RULES,
        "unlimited": UNLIMITED,
        "statements": STATEMENTS,
    },
    optional=True,
    seldom=True,
)
