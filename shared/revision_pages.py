"""The page that edits one part of a facts document and saves it as the next revision, for every room alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from shared.changes import Change, ShowQuantity, changes
from shared.document_forms import DocumentForm, Location, facts_from
from shared.document_plan import Filling, Plan
from shared.facts import Facts
from shared.http import person_of
from shared.models import Person
from shared.quantities import display
from shared.revisions import LONGEST_NOTE, ChangedMeanwhileError, Revision, Revisions

NOTE_HELP = "For those who read the history: what changed and on whose word, such as “pump test of 4 March”."


@dataclass(frozen=True)
class Section:
    """One part of a facts document that is edited on a page of its own.

    ``take`` returns that part of the whole document, ``put`` puts its stated form back into the stored whole, and
    ``at`` is where it stands there.
    """

    title: str
    plan: Plan
    take: Callable[[Any], Facts | None]
    put: Callable[[dict[str, Any], dict[str, Any]], dict[str, Any]]
    at: Location = ()


@dataclass(frozen=True)
class Collision:
    """What somebody else saved meanwhile."""

    sentence: str
    changes: list[Change]


class FirstRevisionForm(forms.Form):
    """A note for the history."""

    note = forms.CharField(label="Note", max_length=LONGEST_NOTE, required=False, help_text=NOTE_HELP)


class RevisionForm(FirstRevisionForm):
    """With the revision that filled the form, and the newest one that the person was told of."""

    base = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)

    def told_of(self, latest: Revision) -> RevisionForm:
        """Return the same form for the next try, now that the person was told of a newer revision."""
        return RevisionForm({**{key: self.data.get(key, "") for key in self.fields}, "seen": str(latest.number)})


def section_of_keys(title: str, plan: Plan) -> Section:
    """Return the section that edits some keys of the whole document itself."""
    own = {column.key for column in plan.columns} | set(plan.parts)

    def put(whole: dict[str, Any], stated: dict[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in whole.items() if key not in own} | stated

    return Section(title, plan, take=lambda facts: facts, put=put)


def shower(person: Person) -> ShowQuantity:
    """Return the function that writes quantities in a person's units."""
    return lambda value, unit: display(value, unit, person.units)


def edit_revision(
    request: HttpRequest,
    *,
    section: Section,
    revisions: Revisions,
    model: type[Facts],
    save: Callable[[Any, str, int], object],
    done: str,
    context: Mapping[str, Any],
) -> HttpResponse:
    """Answer the edit page of one section; ``save`` takes facts, note and the revision started from."""
    person = person_of(request)
    posted = request.POST if request.method == "POST" else None
    latest: Revision = revisions.first()
    about = _about(posted, latest)
    base = _base(about, revisions, latest)
    given = section.take(model.model_validate(base.facts))
    form = DocumentForm(section.plan, Filling(person.units, posted), "facts", given)
    collision = None
    if form.is_answer:
        facts = facts_from(form, model, lambda stated: section.put(latest.facts, stated), section.at)
        if about.is_valid() and facts is not None:
            try:
                with form.refusals():
                    save(facts, about.cleaned_data["note"], about.cleaned_data["seen"])
                    messages.success(request, f"{section.title}: saved as revision {revisions.first().number}.")
                    return HttpResponseRedirect(done)
            except ChangedMeanwhileError as error:
                collision = _collision(error, base, model, person)
                about = about.told_of(error.latest)
    shown = {"form": form, "about": about, "section": section, "collision": collision, "done": done}
    return render(request, "shared/facts/edit.html", {**context, **shown}, status=409 if collision else 200)


def _about(posted: Any, latest: Revision) -> RevisionForm:
    return RevisionForm(posted, initial={"base": latest.number, "seen": latest.number})


def _base(about: RevisionForm, revisions: Any, latest: Revision) -> Revision:
    """Return the revision that filled the form, so that what was not touched is still known to the last digit."""
    about.is_valid()
    number = about.cleaned_data.get("base") if about.is_bound else None
    found: Revision | None = revisions.filter(number=number).first() if number else None
    return found or latest


def _collision(error: ChangedMeanwhileError, base: Revision, model: type[Facts], person: Person) -> Collision:
    before, after = model.model_validate(base.facts), model.model_validate(error.latest.facts)
    return Collision(str(error), changes(before, after, shower(person)))
