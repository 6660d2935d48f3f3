"""What every list of the API is made of."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, TypeVar
from uuid import UUID

from django.http import HttpRequest
from ninja import Field, Schema
from ninja.pagination import LimitOffsetPagination
from pydantic import BeforeValidator, ValidationError

from compat.api.problems import Problem
from shared.facts import Facts, sentences
from shared.reading import DocumentError, decode_object

Text = Annotated[str, BeforeValidator(str)]
Number = Annotated[int, Field(ge=1, le=2**31 - 1)]


class RevisionOut(Schema):
    """One revision of what is stated: its number, who made it, when and why."""

    number: int
    note: str
    made_by: Text
    made_at: datetime


class Made(Schema):
    """What a writing request made or changed; ``row`` names a proposal or an answer."""

    id: UUID
    revision: int | None = None
    row: int | None = None


REFUSALS = dict.fromkeys((400, 401, 403, 404, 409, 422, 429), Problem)


class Pages(LimitOffsetPagination):
    """Lists in parts: at most 500 rows from an offset that a database can count to."""

    class Input(Schema):
        """Which part is wanted."""

        limit: Annotated[int, Field(ge=1, le=500)] = 100
        offset: Annotated[int, Field(ge=0, le=10**9)] = 0


F = TypeVar("F", bound=Facts)
_REF = "#/components/schemas/{model}"
_documents: dict[str, dict[str, Any]] = {}


def document_of(request: HttpRequest, model: type[F]) -> F:
    """Return the document that was sent, checked; raise DocumentError with a sentence for each thing to correct."""
    found = decode_object(request.body, "The request")
    try:
        return model.model_validate(found)
    except ValidationError as error:
        raise DocumentError([sentence for _, sentence in sentences(error)]) from None


def takes(model: type[Facts]) -> dict[str, Any]:
    """Describe a request whose document the program checks itself, so that it answers with its own sentences."""
    schema = model.model_json_schema(ref_template=_REF)
    _documents.update(schema.pop("$defs", {}))
    _documents[model.__name__] = schema
    content = {"application/json": {"schema": {"$ref": _REF.format(model=model.__name__)}}}
    return {"requestBody": {"required": True, "content": content}}


def documents() -> dict[str, dict[str, Any]]:
    """Return the schemas of all documents that requests take, by name."""
    return dict(_documents)
