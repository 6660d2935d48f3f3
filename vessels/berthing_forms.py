"""How the facts that berths ask of a ship stand in forms."""

from __future__ import annotations

from shared.berthing_facts import ReducerFacts
from shared.document_plan import Plan
from vessels.berthing_facts import (
    CertificateFacts,
    EquipmentFacts,
    HullFacts,
    MooringLines,
    ShipBerthingFacts,
    ShipStatement,
)

HULL = Plan(HullFacts, heading="Hull", note="Distances along the ship count from the manifold's centre.")
EQUIPMENT = Plan(EquipmentFacts, heading="Equipment")
MOORINGS = Plan(
    MooringLines,
    heading="Mooring lines",
    note="One row for each place. Where fairleads are known, the directions of the lines are looked at as well.",
    item="place",
    labels={"count": "Lines", "fairlead_elevation_m": "Fairlead over the keel"},
    optional=True,
)
REDUCERS = Plan(
    ReducerFacts,
    heading="Reducers on board",
    note="Own side bolts to her manifold, the other side is what she then offers to the arm or hose.",
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
CERTIFICATES_HELD = Plan(
    CertificateFacts,
    heading="Certificates",
    item="certificate",
    labels={"valid_to": "Valid to", "number": "Number"},
    optional=True,
)
STATEMENTS = Plan(
    ShipStatement,
    heading="How sure",
    note="For facts that are more or less sure than stated: who said so, and when. What no row names counts as stated"
    " by the person and on the day of its revision.",
    item="fact",
    labels={"sure": "How sure"},
    optional=True,
)
BERTHING = Plan(
    ShipBerthingFacts,
    heading="For berths",
    note="What berths ask of her; what is not known stays empty, and the check that needs it is then not decided.",
    parts={
        "hull": HULL,
        "equipment": EQUIPMENT,
        "moorings": MOORINGS,
        "reducers": REDUCERS,
        "certificates": CERTIFICATES_HELD,
        "statements": STATEMENTS,
    },
    optional=True,
    seldom=True,
)
