"""Facts documents as files: what is downloaded is taken back, its format is named inside (pure: no Django)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Generic, TypeVar

from pydantic import ValidationError

from shared.facts import Facts, sentences, shown
from shared.reading import DocumentError, decode_object

F = TypeVar("F", bound=Facts)


@dataclass(frozen=True)
class FactsFile(Generic[F]):
    """A kind of facts file: ``{"format": …, key: facts}``."""

    model: type[F]
    format: str
    key: str

    def write(self, facts: F) -> bytes:
        """Return the file of these facts; what is not known is left out."""
        document = {"format": self.format, self.key: facts.model_dump(mode="json", exclude_none=True)}
        return (json.dumps(document, indent=2, ensure_ascii=False) + "\n").encode()

    def read(self, data: bytes, name: str) -> F:
        """Return the facts in a file; raise DocumentError with a sentence for each thing to correct."""
        document = decode_object(data, name)
        stated = document.get("format")
        if stated != self.format:
            found = f"names the format {shown(stated)}" if stated is not None else "does not name its format"
            raise DocumentError([f"{name} {found}; this page takes {self.format}, as its download writes it."])
        if set(document) != {"format", self.key}:
            others = ", ".join(sorted(set(document) - {"format", self.key})) or "nothing"
            raise DocumentError([f"{name} must hold format and {self.key}; besides format it holds {shown(others)}."])
        try:
            return self.model.model_validate(document[self.key])
        except ValidationError as error:
            raise DocumentError([f"{name}: {self.key}: {sentence}" for _, sentence in sentences(error)]) from None
