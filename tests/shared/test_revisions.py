"""Two saves at the very same moment: the database lets one through and the other is told."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from shared.models import Person
from shared.revisions import ChangedMeanwhileError, next_revision
from tests.builders import make_vessel, ship_facts
from vessels.facts import ShipFacts

FACTS = ShipFacts.model_validate(ship_facts(name="Mine"))


class Outdated:
    """Revisions as one who read them a moment too early sees them."""

    def __init__(self, revisions: Any) -> None:
        self.revisions, self.seen = revisions, revisions.first()

    def first(self) -> Any:
        seen, self.seen = self.seen, self.revisions.first()
        return seen

    def create(self, **values: Any) -> Any:
        return self.revisions.create(**values)

    def select_related(self, *names: str) -> Any:
        return self.revisions.select_related(*names)


def test_the_one_who_comes_a_moment_later_is_told(ship_officer: Person, ship_admin: Person, now: datetime) -> None:
    assert ship_officer.organisation is not None
    vessel = make_vessel(ship_officer.organisation, ship_officer)
    early = Outdated(vessel.revisions)
    next_revision(
        vessel.revisions,
        started_from=1,
        facts=ShipFacts.model_validate(ship_facts(name="Theirs")),
        note="",
        by=ship_admin,
        now=now,
    )
    with pytest.raises(ChangedMeanwhileError, match="Maud Okafor saved revision 2"):
        next_revision(early, started_from=1, facts=FACTS, note="", by=ship_officer, now=now)
    assert [revision.ship_facts().name for revision in vessel.revisions.all()] == ["Theirs", "Astrid Halvard"]
