"""Every key of a facts document stands in a form: saving a section must never drop what it does not show."""

from __future__ import annotations

import pytest

from shared.document_plan import Plan
from shared.facts import Facts
from shared.facts_reading import fields_of
from shared.revision_pages import Section
from terminals import forms as berth_forms
from terminals.facts import BerthFacts
from vessels import forms as ship_forms
from vessels.facts import ShipFacts

# Stated by the terminal itself, so no berth form asks for them.
BY_THE_TERMINAL = {"terminal", "port"}
SECTIONS = {
    BerthFacts: [
        berth_forms.NAME_SECTION,
        berth_forms.ARMS_SECTION,
        berth_forms.LINE_SECTION,
        berth_forms.BERTHING_SECTION,
    ],
    ShipFacts: [ship_forms.PARTICULARS_SECTION, ship_forms.COMMON_LINE_SECTION, ship_forms.BERTHING_SECTION],
}


def keys_left_out(plan: Plan) -> list[str]:
    """Return each key, at any depth, that a plan neither asks for nor passes to a part."""
    shown = {column.key for column in plan.columns} | set(plan.parts)
    left = [f"{plan.model.__name__}.{key}" for key in fields_of(plan.model) if key not in shown]
    return left + [key for part in plan.parts.values() for key in keys_left_out(part)]


@pytest.mark.parametrize("plan", [berth_forms.WHOLE_BERTH, ship_forms.WHOLE_SHIP, ship_forms.PUMP])
def test_a_whole_form_leaves_no_key_out(plan: Plan) -> None:
    assert set(keys_left_out(plan)) <= {f"BerthFacts.{key}" for key in BY_THE_TERMINAL}


@pytest.mark.parametrize("model", [BerthFacts, ShipFacts])
def test_the_sections_together_leave_no_key_out(model: type[Facts]) -> None:
    sections: list[Section] = SECTIONS[model]
    shown = {key for section in sections for key in ({c.key for c in section.plan.columns} | set(section.plan.parts))}
    by_pump_pages = {"pumps"} if model is ShipFacts else set()
    assert set(fields_of(model)) - shown - by_pump_pages == (BY_THE_TERMINAL if model is BerthFacts else set())
    for section in sections:
        for part in section.plan.parts.values():
            assert keys_left_out(part) == []
