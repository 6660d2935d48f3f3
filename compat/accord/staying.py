"""The stay of an accord on its frozen case with certain values agreed, and what is wrong with it (pure: no Django)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from compat.accord.engine import PRESSURE
from compat.accord.value_kinds import Given
from compat.accord.values import case_with
from compat.stay.file import FORMAT, StayFile, check_stay
from compat.stay.outcome import answer_stay
from compat.stay.parts import StayAnswer
from compat.stay.variants import Variant, answer_with_variants
from shared.calc.errors import InputError
from shared.reading import DocumentError

STAYS_KEPT = 50
_OF_THE_CASE = frozenset({"format", "title", "case"})


@dataclass(frozen=True)
class WorkedStay:
    """A stay worked out with certain values; ``problems`` are sentences that say why there is no answer."""

    answer: StayAnswer | None
    problems: tuple[str, ...] = ()
    file: StayFile | None = None

    @property
    def unsolved(self) -> tuple[str, ...]:
        """Return a sentence for everything that keeps the stay from being settled."""
        return self.problems + tuple(one.sentence for one in (self.answer.problems if self.answer else ()))


def stated_stay(file: StayFile) -> dict[str, Any]:
    """Return what a stay file states beside its case: what an accord keeps."""
    whole = file.model_dump(mode="json", exclude_none=True)
    return {key: part for key, part in whole.items() if key not in _OF_THE_CASE}


def stay_file_of(case: Mapping[str, Any], stated: Mapping[str, Any], *, line_shared: bool) -> StayFile:
    """Return the stay file of a case document and what is stated beside it; raise DocumentError where it is none.

    Where the terminal keeps its shore line to itself and states no content of it, line filling is left out: its
    volume would tell the line.
    """
    document = json.loads(json.dumps(stated)) | {"format": FORMAT, "case": case}
    if not line_shared:
        document.setdefault("stages", {}).setdefault("line_content_m3", 0.0)
    return check_stay(document, "The stay")


def work_out_stay(
    case: Mapping[str, Any], stated: Mapping[str, Any], values: Mapping[str, Given], *, line_shared: bool
) -> WorkedStay:
    """Work the stay of an accord out with exactly these values agreed."""
    if PRESSURE not in values and case["operation"]["speed"] != "as stated":
        return WorkedStay(None, ("The stay follows as soon as a highest manifold pressure is on the table.",))
    try:
        file = stay_file_of(case_with(case, values), stated, line_shared=line_shared)
        return WorkedStay(worked_out(file), file=file)
    except DocumentError as error:
        return WorkedStay(None, tuple(error.problems))
    except InputError as error:
        return WorkedStay(None, (str(error),))


def worked_out(file: StayFile) -> StayAnswer:
    """Return the answer of a stay file; the same file is worked out once."""
    return _worked_out(file.model_dump_json(exclude_none=True))


@lru_cache(maxsize=STAYS_KEPT)
def _worked_out(text: str) -> StayAnswer:
    return answer_stay(check_stay(json.loads(text), "The stay"))


def other_plans(file: StayFile) -> tuple[Variant, ...]:
    """Return the plans beside that of a stay file, each with one thing changed; the same file is worked out once."""
    return _other_plans(file.model_dump_json(exclude_none=True))


@lru_cache(maxsize=STAYS_KEPT)
def _other_plans(text: str) -> tuple[Variant, ...]:
    return answer_with_variants(check_stay(json.loads(text), "The stay"))[1]
