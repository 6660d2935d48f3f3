"""Feed documents that were spoilt in every way to what reads them, for as long as wanted, and find what crashes.

Whole documents are changed at random places by random values, or their bytes are; whatever is read is answered as
well. Only a refusal in a sentence is right; anything else that is raised, and any warning, is printed with its
document, once for each place in the code.
Run from the project's folder: python -m tests.benchmarks.fuzz [--minutes 60] [--seed 1]
"""

from __future__ import annotations

# ruff: noqa: E402
import os

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()  # the builders of documents are those of the tests, which know the database

import argparse
import copy
import json
import random
import sys
import time
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

from compat.case.answer import answer_case
from compat.case.case_file import check_case
from compat.case.grades import FORMAT as GRADES_FORMAT
from compat.case.grades import answer_grades, check_grades
from compat.stay.file import check_stay
from compat.stay.outcome import answer_stay
from shared.calc.errors import AccordError
from shared.facts_files import FactsFile
from shared.reading import decode_object
from terminals.facts import BerthFacts
from tests.benchmarks.cases import four_equal_pumps
from tests.compat.stays import stay_document
from vessels.facts import ShipFacts

STRANGE = (
    None, True, False, 0, -1, 1, 2, 0.5, 1e-9, 1e9, 1e300, -1e300, 5e-324, 10**40,
    "", "0", "1.5", "NaN", "Infinity", "\x00",
    "x" * 5000, "🛢", "=1+1", [], {}, [[]], [1, 2, 3], {"a": 1}, "2026-11-25", "2026-11-25T10:00:00Z",
)  # fmt: skip
MOST_CHANGES = 4
STAYS_IN = 40  # one in so many is a stay, which takes a second and not a few milliseconds


def main() -> None:
    """Feed until the time is up."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    warnings.simplefilter("error")
    until, tried, read = time.monotonic() + 60 * asked.minutes, 0, 0
    dice = random.Random(asked.seed)  # noqa: S311 (nothing here is a secret)
    seeds, crashes = _seeds(), set[str]()
    while time.monotonic() < until:
        name = "stay" if dice.randrange(STAYS_IN) == 0 else dice.choice(list(seeds))
        data = _spoilt(seeds[name], dice)
        tried += 1
        try:
            read += _feed(name, data)
        except Exception as error:  # noqa: BLE001 (whatever it is, it is what is looked for)
            place = _place_of(error)
            if place not in crashes:
                crashes.add(place)
                sys.stdout.write(f"\n{name}: {place}: {error}\n{data.decode('utf-8', 'backslashreplace')}\n")
                sys.stdout.flush()
    sys.stdout.write(f"{tried} spoilt documents, {read} of them read and answered; {len(crashes)} kinds of crash.\n")
    sys.exit(1 if crashes else 0)


def _place_of(error: Exception) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if "site-packages" not in frame.filename and "tests" not in frame.filename]
    last = (own or list(frames))[-1]
    return f"{type(error).__name__} at {Path(last.filename).name}:{last.lineno}"


def _seeds() -> dict[str, Any]:
    case = four_equal_pumps()
    return {
        "case": case,
        "stay": stay_document(),
        "ship": {"format": "berth-accord-ship/1", "ship": case["ship"]},
        "berth": {"format": "berth-accord-berth/1", "berth": case["berth"]},
        "grades": {"format": GRADES_FORMAT, "title": "Two grades", "grades": [case, case]},
    }


def _spoilt(document: Any, dice: random.Random) -> bytes:
    changed = copy.deepcopy(document)
    for _ in range(dice.randint(1, MOST_CHANGES)):
        _change(changed, dice)
    data = json.dumps(changed).encode()
    if dice.randrange(5) == 0:
        data = _bytes_changed(data, dice)
    return data


def _change(document: Any, dice: random.Random) -> None:
    """Walk down to a random place and spoil it there."""
    here = document
    while True:
        keys = list(here) if isinstance(here, dict) else list(range(len(here)))
        if not keys:
            return
        key = dice.choice(keys)
        below = here[key]
        if isinstance(below, dict | list) and below and dice.randrange(12):
            here = below
            continue
        break
    match dice.randrange(5):
        case 0 if isinstance(here, dict):
            del here[key]
        case 1 if isinstance(here, list):
            here.insert(dice.randrange(len(here) + 1), copy.deepcopy(below))
        case 2 if isinstance(below, int | float) and not isinstance(below, bool):
            here[key] = below * dice.choice((-1, 0.1, 0.5, 0.9, 1.1, 2, 10, 1000))
        case _:
            here[key] = copy.deepcopy(dice.choice(STRANGE))


def _bytes_changed(data: bytes, dice: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(dice.randint(1, 6)):
        changed[dice.randrange(len(changed))] = dice.randrange(256)
    return bytes(changed[: dice.randrange(len(changed))] if dice.randrange(4) == 0 else changed)


def _feed(name: str, data: bytes) -> bool:
    """Read and answer one document; tell whether it could be read."""
    try:
        _READERS[name](data)
    except AccordError as error:
        if not str(error).strip():
            raise RuntimeError("it was refused without a sentence") from error
        return False
    return True


def _case(data: bytes) -> None:
    answer = answer_case(check_case(decode_object(data, "case.json"), "case.json"))
    json.dumps(answer.document(), allow_nan=False)


def _stay(data: bytes) -> None:
    json.dumps(answer_stay(check_stay(decode_object(data, "stay.json"), "stay.json")).document(), allow_nan=False)


def _grades(data: bytes) -> None:
    json.dumps(
        answer_grades(check_grades(decode_object(data, "grades.json"), "grades.json")).document(), allow_nan=False
    )


def _ship(data: bytes) -> None:
    FactsFile(ShipFacts, "berth-accord-ship/1", "ship").read(data, "ship.json")


def _berth(data: bytes) -> None:
    FactsFile(BerthFacts, "berth-accord-berth/1", "berth").read(data, "berth.json")


_READERS: dict[str, Callable[[bytes], None]] = {
    "case": _case,
    "stay": _stay,
    "grades": _grades,
    "ship": _ship,
    "berth": _berth,
}

if __name__ == "__main__":
    main()
