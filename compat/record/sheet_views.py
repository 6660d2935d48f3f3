"""Pages of the time sheet: performance against plan and warranty, and the text of a letter of protest."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from compat.accord.permissions import check_acting_side
from compat.record.counting import counted
from compat.record.pages import Kept, base_context, kept_of
from compat.record.performance_view import WARRANTY_BAR, WARRANTY_HOURS, Asked, verdict
from compat.record.protest import Drifts, Letter, letter_text
from compat.record.taking import standing_readings
from shared.fields import PersonForm, QuantityField


class WarrantyForm(PersonForm):
    """What performance is measured against; the usual figures stand there first."""

    hours = QuantityField("time", "h", 1, 500, label="Hours for the whole cargo", initial=WARRANTY_HOURS)
    pressure = QuantityField("pressure", "bar", 0.5, 40, label="Or a manifold pressure of", initial=WARRANTY_BAR)
    extra = QuantityField("time", "h", 0, 200, label="Extra hours for washing", initial=0)
    part = QuantityField("percent", "%", 0.1, 100, label="Share of her whole cargo discharged here", initial=100)

    def asked(self) -> Asked:
        """Return what was asked; the usual warranty where the form was not sent or not sound."""
        if not self.is_bound or not self.is_valid():
            return Asked()
        said = self.cleaned_data
        return Asked(float(said["hours"]), float(said["pressure"]), float(said["extra"]), float(said["part"]) / 100.0)


@require_GET
def performance_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Show pumping performance against the plan and against the usual warranty."""
    kept = kept_of(request, public_id)
    form = WarrantyForm(request.GET or None, person=kept.person)
    sheet, found = counted(kept.record, form.asked())
    context = base_context(kept) | {"form": form, "found": found, "sheet": sheet, "query": request.GET.urlencode()}
    return render(request, "record/performance.html", context | {"verdict": verdict(found) if found else ""})


@require_GET
def protest(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Give the text of a letter of protest of one's own side, to be read and changed before it is signed."""
    kept = kept_of(request, public_id)
    side = check_acting_side(kept.person, kept.record.accord)
    sheet, found = counted(kept.record, WarrantyForm(request.GET or None, person=kept.person).asked())
    accord = kept.accord
    letter = Letter(
        side=side,
        ship=accord.ship_name,
        berth=accord.berth_name,
        place=accord.place,
        cargo=accord.cargo_name,
        own_party=accord.party(side).name,
        other_party=accord.party(side.other).name,
        reference=accord.reference,
        written_at=timezone.now(),
    )
    text = letter_text(letter, sheet, found, _difference(kept), _drifts(kept))
    if request.GET.get("as") == "file":
        name = slugify(f"protest {accord.ship_name} {accord.reference}")
        headers = {"Content-Disposition": f'attachment; filename="{name}.txt"'}
        return HttpResponse(text, content_type="text/plain; charset=utf-8", headers=headers)
    area = forms.Textarea(attrs={"rows": 26, "readonly": True, "aria-label": "Text of the letter"})
    context: dict[str, Any] = base_context(kept) | {"letter": area.render("letter", text)}
    return render(request, "record/protest.html", context)


def _difference(kept: Kept) -> float | None:
    """Return ship's less shore's figure in percent, where the latest comparison of both is beyond what was agreed."""
    for reading in standing_readings(kept.record).order_by("-at", "-id")[:20]:
        found = (reading.comparison or {}).get("difference")
        if found:
            return float(found["percent"]) if found["over"] else None
    return None


def _drifts(kept: Kept) -> Drifts:
    drifted = standing_readings(kept.record).filter(drifted=True)
    return Drifts(drifted.count(), drifted.filter(answer=None).count())
