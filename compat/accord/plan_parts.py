"""The parts that other rooms add to a plan, in the order in which they are printed (pure: no Django).

A new part is one ``Part`` in ``PARTS``. Its document is worked out when the accord is settled, frozen into the signed
bytes under ``parts``, and printed after the gauges and limits from those bytes alone.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from compat.case.answer import answer_case
from compat.case.case_file import CaseFile, case_document, check_case
from shared.canonical import numbers_as_text

Document = dict[str, Any]
SETTLED_CASES_KEPT = 20


@dataclass(frozen=True)
class PartSource:
    """What a part is worked out from; with ``line_data_shared`` false nothing may tell of the shore line itself."""

    case: CaseFile
    answer: Mapping[str, Any]
    line_data_shared: bool


@dataclass(frozen=True)
class Part:
    """One part of the plan.

    ``gather`` returns its JSON document, or None where the case does not state what it needs; ``view`` turns that
    document (its floats have become decimal text) into what ``template`` prints as ``part``; ``glance`` returns boxes
    for the first page, each with ``label``, ``figure`` and ``beside``.
    """

    key: str
    template: str
    gather: Callable[[PartSource], Document | None]
    view: Callable[[Document], Document]
    glance: Callable[[Document], list[dict[str, str]]] = lambda _: []


PARTS: tuple[Part, ...] = ()


def documents_of(case: CaseFile, *, line_data_shared: bool) -> dict[str, Document]:
    """Return the document of every part that this case has, by key; the same case is worked out once."""
    found: dict[str, Document] = json.loads(_documents_text(json.dumps(case_document(case)), line_data_shared))
    return found


@lru_cache(maxsize=SETTLED_CASES_KEPT)
def _documents_text(case_text: str, line_data_shared: bool) -> str:
    """Return the documents as text, so that nobody changes what the next caller gets."""
    case = check_case(json.loads(case_text), "The settled case")
    source = PartSource(case, answer_case(case).document(), line_data_shared)
    documents = {part.key: part.gather(source) for part in PARTS}
    return json.dumps({key: numbers_as_text(found) for key, found in documents.items() if found is not None})


def printed(documents: Mapping[str, Document]) -> Iterator[dict[str, Any]]:
    """Yield template and content of each part that a payload carries, in the order of ``PARTS``."""
    for part in PARTS:
        if part.key in documents:
            yield {"key": part.key, "template": part.template, "part": part.view(documents[part.key])}


def glance_boxes(documents: Mapping[str, Document]) -> Iterator[dict[str, str]]:
    """Yield the boxes that the parts put on the first page."""
    for part in PARTS:
        if part.key in documents:
            yield from part.glance(documents[part.key])
