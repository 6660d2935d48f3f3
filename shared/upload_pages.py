"""Facts files down and up: first what a file would change, then the new revision; for every room alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.text import slugify

from shared.changes import changes
from shared.facts import Facts
from shared.facts_files import FactsFile
from shared.http import person_of, refusals_on
from shared.reading import LARGEST_DOCUMENT_BYTES, DocumentError
from shared.revision_pages import NOTE_HELP, shower
from shared.revisions import LONGEST_NOTE, Revisions

F = TypeVar("F", bound=Facts)


class FactsFileForm(forms.Form):
    """A facts file as the browser sends it."""

    file = forms.FileField(
        label="Facts file",
        error_messages={"required": "The file is missing; choose one.", "empty": "The file is empty; choose another."},
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )

    def read_as(self, kind: FactsFile[F]) -> F | None:
        """Return the facts in the file, or None after putting each refusal on the form."""
        if not self.is_valid():
            return None
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        name = (file.name or "The file")[:60]
        if file.size is not None and file.size > LARGEST_DOCUMENT_BYTES:
            limit = f"allowed: up to {LARGEST_DOCUMENT_BYTES:,}. Is it the right file?"
            self.add_error("file", f"{name} holds {file.size:,} bytes; {limit}")
            return None
        try:
            return kind.read(file.read(), name)
        except DocumentError as error:
            for problem in error.problems:
                self.add_error("file", problem)
            return None


class FactsConfirmForm(forms.Form):
    """The checked file and what it was compared with, for the second step."""

    facts = forms.CharField(widget=forms.HiddenInput)
    seen = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
    note = forms.CharField(label="Note", max_length=LONGEST_NOTE, required=False, help_text=NOTE_HELP)


def download(kind: FactsFile[F], facts: F, title: str) -> HttpResponse:
    """Answer with a facts file that is saved under a name made of ``title``."""
    name = f"{slugify(title) or kind.key}.json"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(kind.write(facts), content_type="application/json", headers=headers)


def upload_new(
    request: HttpRequest, *, kind: FactsFile[F], add: Callable[[F], str], context: Mapping[str, Any]
) -> HttpResponse:
    """Answer the page that adds something from a facts file; ``add`` returns where it is shown then."""
    form = _file_form(request)
    facts = form.read_as(kind)
    if facts is not None:
        with refusals_on(form, "file"):
            return HttpResponseRedirect(add(facts))
    return render(request, "shared/facts/upload.html", {**context, "form": form, "format": kind.format})


def upload_revision(
    request: HttpRequest,
    *,
    kind: FactsFile[F],
    revisions: Revisions,
    save: Callable[[F, str, int], object],
    done: str,
    context: Mapping[str, Any],
) -> HttpResponse:
    """Answer both steps of taking a facts file as the next revision; ``save`` is as in ``edit_revision``."""
    context = {**context, "done": done, "format": kind.format}
    if "seen" in request.POST:
        confirm = FactsConfirmForm(request.POST)
        facts = _confirmed(confirm, kind)
        if facts is not None:
            with refusals_on(confirm):
                save(facts, confirm.cleaned_data["note"], confirm.cleaned_data["seen"])
                messages.success(request, f"The file was saved as revision {revisions.first().number}.")
                return HttpResponseRedirect(done)
        return render(request, "shared/facts/upload.html", {**context, "form": FactsFileForm(), "refused": confirm})
    form = _file_form(request)
    facts = form.read_as(kind)
    if facts is None:
        return render(request, "shared/facts/upload.html", {**context, "form": form})
    latest = revisions.first()
    found = changes(kind.model.model_validate(latest.facts), facts, shower(person_of(request)))
    confirm = FactsConfirmForm(initial={"facts": kind.write(facts).decode(), "seen": latest.number})
    return render(
        request, "shared/facts/upload_preview.html", {**context, "form": confirm, "changes": found, "latest": latest}
    )


def _file_form(request: HttpRequest) -> FactsFileForm:
    return FactsFileForm(request.POST, request.FILES) if request.method == "POST" else FactsFileForm()


def _confirmed(confirm: FactsConfirmForm, kind: FactsFile[F]) -> F | None:
    if not confirm.is_valid():
        return None
    try:
        return kind.read(confirm.cleaned_data["facts"].encode(), "The file")
    except DocumentError as error:
        confirm.add_error(None, str(error))
        return None
