"""Verifies the changes of watch that a record carries: each was signed on its own (pure: no Django)."""

from __future__ import annotations

import json
from base64 import b64decode
from collections.abc import Callable, Iterator
from typing import Any

from asn1crypto import cms

from compat.accord.cms_signature import office_of, split
from compat.accord.plan_file import RECORD, PlanFile

Judge = Callable[[bytes, cms.SignedData], str]
"""Tells what is wrong with a signature over bytes, empty where it holds."""


def watch_problems(file: PlanFile, judge: Judge) -> Iterator[str]:
    """Yield a sentence for each change of watch whose signature does not hold for what the record says of it."""
    if file.kind is not RECORD:
        return
    for number, watch in enumerate(file.payload.get("watches", []), 1):
        try:
            problem = _problem(file, watch, judge)
        except (ValueError, TypeError, LookupError, AttributeError) as error:
            problem = f"can't be read: {error}"
        if problem:
            yield f"The signature for the watch in line {number} {problem}"


def _problem(file: PlanFile, watch: dict[str, Any], judge: Judge) -> str:
    statement = watch["statement"].encode("utf-8")
    said = json.loads(statement)
    (signed,) = split(b64decode(watch["signature"], validate=True))
    office = office_of(signed)
    told = (watch["side"], watch["person"], watch["title"], watch["at"], watch["remark"])
    if told != tuple(said[key] for key in ("side", "person", "title", "at", "remark")):
        return "is over other words than the record tells."
    if (str(office.side), office.title) != told[:3:2] or said["reference"] != file.payload["accord"]["reference"]:
        return "is for another side, title or accord."
    return judge(statement, signed)
