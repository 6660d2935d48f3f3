"""Questionnaires down and up: a blank or filled one, then what a file would change, then all of it at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone

from shared.canonical import sha256_hex
from shared.changes import Change, changes
from shared.facts import Facts
from shared.held_files import HeldFile, hold
from shared.http import person_of, refusals_told
from shared.models import Person
from shared.reading import DocumentError
from shared.revision_pages import NOTE_HELP, shower
from shared.revisions import LONGEST_NOTE, facts_sha256
from shared.sheet_files import csv_bytes, download, xlsx_bytes
from shared.sheets.answers import Answered, Reader
from shared.sheets.layout import Layout
from shared.sheets.reading import LARGEST_FILE_BYTES, read_sheets
from shared.sheets.writing import tables_of

KINDS = ("xlsx", "csv")


@dataclass(frozen=True)
class Questionnaire:
    """What a room says of its questionnaire: whose facts are known, how they are saved, what is asked about them.

    ``known`` maps what subjects are named by to their newest facts; ``save`` takes all subjects in one transaction.
    """

    layout: Layout
    purpose: str
    known: Mapping[str, Facts]
    stated: Sequence[Facts]
    save: Callable[[Sequence[Answered], str], int]
    questions: Callable[[Any], Sequence[str]]
    done: str
    address: str
    context: Mapping[str, Any]


@dataclass(frozen=True)
class Preview:
    """One subject of a file: what it would change, and what is asked about it."""

    name: str
    is_new: bool
    changes: Sequence[Change]
    questions: Sequence[str]


class SheetForm(forms.Form):
    """A questionnaire as the browser sends it."""

    file = forms.FileField(
        label="Questionnaire",
        error_messages={"required": "The file is missing; choose one.", "empty": "The file is empty; choose another."},
        widget=forms.FileInput(attrs={"accept": ".xlsx,.csv", "class": "form-control"}),
        help_text="XLSX, or CSV for the first sheet alone.",
    )


class SheetConfirmForm(forms.Form):
    """The file that was shown, and a note for the history of everything it changes."""

    held = forms.UUIDField(widget=forms.HiddenInput)
    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)
    note = forms.CharField(label="Note", max_length=LONGEST_NOTE, required=False, help_text=NOTE_HELP)


def sheet_import(request: HttpRequest, asked: Questionnaire) -> HttpResponse:
    """Answer both steps: show what a file would change, then take all of it, or nothing."""
    person = person_of(request)
    if request.method != "POST":
        return _page(request, asked, SheetForm())
    if "held" in request.POST:
        return _confirmed(request, asked, person)
    form = SheetForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, asked, form)
    file: UploadedFile[bytes] = form.cleaned_data["file"]
    name = (file.name or "The file")[:60]
    if file.size is not None and file.size > LARGEST_FILE_BYTES:
        form.add_error("file", f"{name} holds {file.size:,} bytes; allowed: up to {LARGEST_FILE_BYTES:,}. Split it.")
        return _page(request, asked, form)
    data = file.read()
    try:
        answered = _read(asked, data, name)
    except DocumentError as error:
        for problem in error.problems:
            form.add_error("file", problem)
        return _page(request, asked, form)
    held = hold(person=person, purpose=asked.purpose, name=name, data=data, now=timezone.now())
    return _preview(request, asked, held, answered, SheetConfirmForm(initial=_initial(held, answered)))


def questionnaire_file(asked: Questionnaire, kind: str, *, filled: bool) -> HttpResponse:
    """Send the questionnaire, blank or filled with what is stated; CSV holds its first sheet."""
    tables = tables_of(asked.layout, asked.stated if filled else ())
    title = f"{asked.layout.title} questionnaire{'' if filled else ', blank'}"
    if kind == "csv":
        _, heads, rows = next(table for table in tables if table[0] == asked.layout.sheets[0].name)
        return download(csv_bytes(heads, rows), title, kind)
    return download(xlsx_bytes(tables), title, kind)


def _confirmed(request: HttpRequest, asked: Questionnaire, person: Person) -> HttpResponse:
    form = SheetConfirmForm(request.POST)
    held = None
    if form.is_valid():
        held = HeldFile.objects.filter(
            public_id=form.cleaned_data["held"], person=person, purpose=asked.purpose
        ).first()
    if held is None:
        messages.error(request, "The file is no longer here; nothing was saved. Choose it again.")
        return HttpResponseRedirect(asked.address)
    try:
        answered = _read(asked, bytes(held.data), held.name)
    except DocumentError as error:  # what it was read against has changed since
        for problem in error.problems:
            messages.error(request, problem)
        return HttpResponseRedirect(asked.address)
    if _mark(answered) != form.cleaned_data["seen"]:
        messages.warning(request, "Somebody saved meanwhile; nothing is saved yet. This is what the file changes now.")
        return _preview(request, asked, held, answered, SheetConfirmForm(initial=_initial(held, answered)))
    with refusals_told(request):
        count = asked.save(answered, form.cleaned_data["note"] or f"From {held.name}"[:LONGEST_NOTE])
        held.delete()
        messages.success(
            request, f"Saved from {held.name}: {count} of {len(answered)}; the others are as stated already."
        )
        return HttpResponseRedirect(asked.done)
    return HttpResponseRedirect(asked.address)


def _read(asked: Questionnaire, data: bytes, name: str) -> list[Answered]:
    return Reader(asked.layout, asked.known, name).read(read_sheets(data, name))


def _initial(held: HeldFile, answered: Sequence[Answered]) -> dict[str, str]:
    return {"held": str(held.public_id), "seen": _mark(answered)}


def _mark(answered: Sequence[Answered]) -> str:
    """Return what stands for everything that a preview showed: before and after of each subject."""
    told = [f"{facts_sha256(one.before) if one.before else '-'} {facts_sha256(one.facts)}" for one in answered]
    return sha256_hex("\n".join(told).encode())


def _preview(
    request: HttpRequest, asked: Questionnaire, held: HeldFile, answered: Sequence[Answered], form: SheetConfirmForm
) -> HttpResponse:
    show = shower(person_of(request))
    found = [
        Preview(
            name=str(getattr(one.facts, "name", "")),
            is_new=one.before is None,
            changes=() if one.before is None else changes(one.before, one.facts, show),
            questions=(*one.questions, *asked.questions(one.facts)),
        )
        for one in answered
    ]
    context = {
        **asked.context,
        "form": form,
        "file_name": held.name,
        "previews": [one for one in found if one.is_new or one.changes],
        "unchanged": sum(not (one.is_new or one.changes) for one in found),
        "questions": sum(len(one.questions) for one in found),
        "done": asked.done,
    }
    return render(request, "shared/sheets/preview.html", context)


def _page(request: HttpRequest, asked: Questionnaire, form: SheetForm) -> HttpResponse:
    context = {**asked.context, "form": form, "done": asked.done, "address": asked.address, "layout": asked.layout}
    return render(request, "shared/sheets/import.html", context, status=200)
