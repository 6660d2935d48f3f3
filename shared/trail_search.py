"""Looking for acts in the trail: by who did them, what was done, to what, and when."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Any

from django import forms
from django.db.models import Q, QuerySet

from shared.models import TrailRow


class TrailForm(forms.Form):
    """What is looked for; what is left empty leaves nothing out."""

    person = forms.CharField(label="Person", max_length=100, required=False, help_text="Name, username or organisation")
    act = forms.CharField(label="Act", max_length=60, required=False, help_text="Such as plan signed")
    subject = forms.CharField(label="Object", max_length=120, required=False, help_text="Such as accord, or its id")
    since = forms.DateField(label="From day (UTC)", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    until = forms.DateField(label="To day (UTC)", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    search = forms.CharField(label="Words", max_length=100, required=False, help_text="Anywhere, also in the facts")

    def clean(self) -> dict[str, Any]:
        """Refuse a last day before the first."""
        found: dict[str, Any] = super().clean() or {}
        since, until = found.get("since"), found.get("until")
        if since and until and until < since:
            self.add_error("until", f"The last day, {until}, is before the first, {since}.")
        return found

    def kept(self) -> dict[str, str]:
        """Return what was asked, as text."""
        return {name: str(value) for name, value in self._said().items()}

    def narrow(self, rows: QuerySet[TrailRow]) -> QuerySet[TrailRow]:
        """Return the rows that were asked for; of an unreadable question, none."""
        if not self.is_valid():
            return rows.none()
        said = self._said()
        for word in str(said.get("person", "")).split():
            rows = rows.filter(Q(person__icontains=word) | Q(organisation__icontains=word))
        for word in str(said.get("search", "")).split():
            rows = rows.filter(_anywhere(word))
        if "act" in said:
            rows = rows.filter(act__icontains=said["act"])
        if "subject" in said:
            rows = rows.filter(subject__icontains=said["subject"])
        if "since" in said:
            rows = rows.filter(at__gte=_midnight(said["since"]))
        if "until" in said:
            rows = rows.filter(at__lt=_midnight(said["until"] + timedelta(days=1)))
        return rows

    def _said(self) -> dict[str, Any]:
        return {name: value for name, value in getattr(self, "cleaned_data", {}).items() if value}


def _anywhere(word: str) -> Q:
    found = Q()
    for column in ("person", "organisation", "act", "subject", "facts"):
        found |= Q(**{f"{column}__icontains": word})
    return found


def _midnight(day: Any) -> datetime:
    return datetime.combine(day, time(), tzinfo=UTC)
