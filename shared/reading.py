"""Reads a JSON document that a person gave, and says in one sentence what is wrong with it (pure: no Django)."""

from __future__ import annotations

import json
from typing import Any

from shared.calc.errors import InputError

LARGEST_DOCUMENT_BYTES = 2_000_000


class DocumentError(InputError):
    """A document that can't be read; ``problems`` holds one sentence for each thing to correct."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


def decode_object(data: bytes, name: str) -> dict[str, Any]:
    """Return the JSON object in ``data``; raise DocumentError with a sentence that starts with ``name``."""
    if len(data) > LARGEST_DOCUMENT_BYTES:
        raise DocumentError(
            [f"{name} holds {len(data):,} bytes; allowed: up to {LARGEST_DOCUMENT_BYTES:,}. Is it the right file?"]
        )
    try:
        text = data.decode("utf-8-sig")
        document = json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_refuse_twice)
    except UnicodeDecodeError as error:
        raise DocumentError([f"{name} is not UTF-8 text (byte {error.start}). Is it the right file?"]) from None
    except RecursionError:
        raise DocumentError([f"{name} is nested too deeply to be a facts document."]) from None
    except json.JSONDecodeError as error:
        raise DocumentError(
            [f"{name} is not whole JSON: line {error.lineno}, column {error.colno}: {error.msg}. Was it cut short?"]
        ) from None
    except ValueError as error:
        raise DocumentError([f"{name}: {error}"]) from None
    if not isinstance(document, dict):
        raise DocumentError([f"{name} holds no JSON object; a facts document starts with {{ and names its format."])
    return document


def _refuse_constant(text: str) -> float:
    raise ValueError(f"{text} is not a finite number; write a number.")


def _refuse_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"key {twice} is given twice in one object; keep one of them.")
    return found
