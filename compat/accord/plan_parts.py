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

from compat.accord.plan_stay import stay_boxes, stay_document, stay_view
from compat.accord.plan_surge import surge_document, surge_view
from compat.case.case_file import CaseFile, case_document, check_case
from compat.surge.limiting import held_within_surge
from shared.canonical import numbers_as_text

Document = dict[str, Any]
SETTLED_CASES_KEPT = 20


@dataclass(frozen=True)
class PartSource:
    """What a part is worked out from; with ``line_data_shared`` false nothing may tell of the shore line itself.

    ``stay`` is what is stated about the stay beside the case, None where no stay is part of the accord.
    """

    case: CaseFile
    answer: Mapping[str, Any]
    line_data_shared: bool
    stay: Mapping[str, Any] | None = None


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


PARTS: tuple[Part, ...] = (
    Part(
        "stay",
        "accord/plan/stay.html",
        lambda source: stay_document(source.case, source.stay, line_data_shared=source.line_data_shared),
        stay_view,
        stay_boxes,
    ),
    Part(
        "surge",
        "accord/plan/surge.html",
        lambda source: surge_document(source.case, line_data_shared=source.line_data_shared),
        surge_view,
    ),
)


def documents_of(
    case: CaseFile, *, line_data_shared: bool, stay: Mapping[str, Any] | None = None
) -> dict[str, Document]:
    """Return the document of every part that this case has, by key; the same case is worked out once."""
    text = _documents_text(json.dumps(case_document(case)), line_data_shared, json.dumps(stay))
    found: dict[str, Document] = json.loads(text)
    return found


@lru_cache(maxsize=SETTLED_CASES_KEPT)
def _documents_text(case_text: str, line_data_shared: bool, stay_text: str) -> str:
    """Return the documents as text, so that nobody changes what the next caller gets."""
    case = check_case(json.loads(case_text), "The settled case")
    source = PartSource(case, held_within_surge(case).answer.document(), line_data_shared, json.loads(stay_text))
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
