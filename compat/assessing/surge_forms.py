"""The form of the surge page: the event that is looked at, the closing time and the allowance that are tried."""

from __future__ import annotations

from typing import Any

from django import forms

from compat.assessing.operation_forms import quantity_field, read_of
from compat.case.case_file import AgreedFacts, CaseFile
from shared.fact_fields import plain
from shared.fields import PersonForm
from shared.models import Person


class SurgeForm(PersonForm):
    """What is asked of the surge page; a closing time left empty leaves each valve's own."""

    use_required_attribute = False
    closing_time = quantity_field(
        read_of(AgreedFacts, "closing_time_s", required=False),
        "Closing time of the valves",
        "From the order to shut until shut. Left empty: the time stated for each valve.",
    )
    allowance = quantity_field(
        read_of(AgreedFacts, "surge_allowance_percent", required=False),
        "Allowance above the ratings",
        "Only where ship and terminal allow one for surge; left empty: none.",
    )
    event = forms.CharField(label="What happens", required=False, widget=forms.Select)

    def show_events(self, events: list[tuple[str, str]], chosen: str) -> None:
        """Offer the events of the case, the chosen one first seen."""
        self.fields["event"].widget = forms.Select(choices=events)
        self.fields["event"].initial = chosen

    def tried(self, case: CaseFile) -> CaseFile:
        """Return the case with what the valid form says."""
        values = self.cleaned_data
        changes = {
            "closing_time_s": plain(values["closing_time"]),
            "surge_allowance_percent": plain(values["allowance"]),
        }
        return case.model_copy(update={"agreed": case.agreed.model_copy(update=changes)})


def surge_form(case: CaseFile, person: Person, sent: Any = None) -> SurgeForm:
    """Return the form filled with what is agreed; ``sent`` is the address's query where it asks for anything."""
    initial = {
        "closing_time": case.agreed.closing_time_s,
        "allowance": case.agreed.surge_allowance_percent,
    }
    return SurgeForm(sent, initial=initial, person=person)
