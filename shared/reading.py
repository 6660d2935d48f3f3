"""Reads a JSON document that a person gave, and says in one sentence what is wrong with it (pure: no Django)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from shared.calc.errors import InputError

LARGEST_DOCUMENT_BYTES = 2_000_000
MOST_DIGITS = 300


class DocumentError(InputError):
    """A document that can't be read; ``problems`` holds one sentence for each thing to correct."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


def read_object(path: Path, kind: str) -> dict[str, Any]:
    """Return the JSON object in a file; raise DocumentError naming the file and what ``kind`` it should be."""
    try:
        if path.stat().st_size > LARGEST_DOCUMENT_BYTES:
            raise DocumentError([too_large(path.name, path.stat().st_size)])
        return decode_object(path.read_bytes(), path.name, kind)
    except OSError as error:
        raise DocumentError([f"{path.name} can't be read: {error.strerror}."]) from error


def too_large(name: str, size_bytes: int) -> str:
    """Return the sentence that refuses a document for its size."""
    return f"{name} holds {size_bytes:,} bytes; allowed: up to {LARGEST_DOCUMENT_BYTES:,}. Is it the right file?"


def decode_object(data: bytes, name: str, kind: str = "facts document") -> dict[str, Any]:
    """Return the JSON object in ``data``; raise DocumentError with a sentence that starts with ``name``."""
    if len(data) > LARGEST_DOCUMENT_BYTES:
        raise DocumentError([too_large(name, len(data))])
    try:
        text = data.decode("utf-8-sig")  # some editors put a mark before the text
        document = json.loads(
            text, parse_constant=_refuse_constant, parse_int=_whole_number, object_pairs_hook=_refuse_twice
        )
    except UnicodeDecodeError as error:
        raise DocumentError([f"{name} is not UTF-8 text (byte {error.start}). Is it the right file?"]) from None
    except RecursionError:
        raise DocumentError([f"{name} is nested too deeply to be a {kind}."]) from None
    except json.JSONDecodeError as error:
        raise DocumentError(
            [f"{name} is not whole JSON: line {error.lineno}, column {error.colno}: {error.msg}. Was it cut short?"]
        ) from None
    except ValueError as error:
        raise DocumentError([f"{name}: {error}"]) from None
    if not isinstance(document, dict):
        raise DocumentError([f"{name} holds no JSON object; a {kind} starts with {{ and names its format."])
    return document


def _refuse_constant(text: str) -> float:
    raise ValueError(f"{text} is not a finite number; write a number.")


def _whole_number(text: str) -> int:
    if len(text) > MOST_DIGITS:
        raise ValueError(f"{text[:20]}… is a number of {len(text)} digits; write at most {MOST_DIGITS}.")
    return int(text)


def _refuse_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"key {twice} is given twice in one object; keep one of them.")
    return found
