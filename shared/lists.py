"""Long lists as pages show them: searched, sorted, a page at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar
from urllib.parse import urlencode

from django.core.paginator import Page, Paginator
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest

M = TypeVar("M", bound=Model)
ROWS_ON_A_PAGE = 25


@dataclass(frozen=True)
class Listing(Generic[M]):
    """One page of a list and how it was asked for; templates/shared/list_*.html draw its controls."""

    page: Page[M]
    search: str
    sort: str
    total: int
    kept: tuple[tuple[str, str], ...] = ()

    @property
    def query(self) -> str:
        """Return the part of the address that keeps search, sort and filters on another page."""
        asked = (*self.kept, ("search", self.search), ("sort", self.sort))
        return urlencode({key: value for key, value in asked if value})


def listing(
    request: HttpRequest,
    rows: QuerySet[M],
    *,
    search_in: Sequence[str] = (),
    sort_by: Mapping[str, str] | None = None,
    keep: Mapping[str, str] | None = None,
    rows_on_a_page: int = ROWS_ON_A_PAGE,
) -> Listing[M]:
    """Search, sort and cut a list as the address asks: ``?search=words&sort=-name&page=2``.

    ``search_in`` names model fields, every word must be found in one of them; ``sort_by`` maps the
    names that the page offers to model fields. ``keep`` are filters of the page itself, already applied, which
    its links carry on. Anything else in the address changes nothing.
    """
    search = request.GET.get("search", "").strip()[:100]
    for word in search.split():
        found = Q()
        for field in search_in:
            found |= Q(**{f"{field}__icontains": word})
        rows = rows.filter(found)
    sort = request.GET.get("sort", "")
    sort_field = (sort_by or {}).get(sort.removeprefix("-"))
    if sort_field is None:
        sort = ""
    else:
        rows = rows.order_by(f"-{sort_field}" if sort.startswith("-") else sort_field, "pk")
    paginator = Paginator(rows, rows_on_a_page)
    return Listing(
        paginator.get_page(request.GET.get("page")), search, sort, paginator.count, tuple((keep or {}).items())
    )
