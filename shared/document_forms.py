"""Forms over facts documents: one plan says how a document class stands in a form, however deep it nests.

Rows come and go without scripts: a button posts ``rows=add:prefix``, ``after:row`` or ``drop:row``, and the page
comes back with everything that was typed. The order of the rows is the order in which the page sends them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from pydantic import ValidationError

from shared.calc.errors import AccordError
from shared.document_plan import Filling, Plan
from shared.fact_fields import PlainForm, UnitForm, plain
from shared.facts import Facts
from shared.facts_reading import fields_of, in_words, label_of
from shared.permissions import NotAllowedError
from shared.revisions import ChangedMeanwhileError

_FRESH = "fresh"

Location = tuple[int | str, ...]


class DocumentForm:
    """One document in a form: its plain keys, and a form for each of its parts.

    A row has an ``origin``, its place in the stated list (None for a new row), and ``column_units`` in a table.
    """

    is_list = False

    def __init__(
        self,
        plan: Plan,
        filling: Filling,
        prefix: str,
        given: Facts | None = None,
        *,
        is_row: bool = False,
        origin: int | None = None,
        column_units: Mapping[str, str] | None = None,
    ) -> None:
        self.plan, self.prefix, self.filling, self.origin = plan, prefix, filling, origin
        self.errors: list[str] = []
        self.parts: dict[str, DocumentForm | RowsForm] = {}
        for key, part in plan.parts.items():
            inner = getattr(given, key) if given is not None else None
            made = RowsForm if fields_of(plan.model)[key].kind == "list" else DocumentForm
            self.parts[key] = made(part, filling, f"{prefix}-{key}", inner)
        self.plain = PlainForm(plan, filling, prefix, given, column_units)
        if (is_row or plan.optional) and self.is_blank():
            # What was left blank as a whole has nothing to correct.
            self.plain = PlainForm(plan, filling, prefix, given, column_units, answers=False)
            for blank in self.plain.fields.values():
                blank.required = blank.required and not plan.optional

    @property
    def is_answer(self) -> bool:
        """Tell whether this is an answer to a save, not a fresh page or one with another row."""
        return self.filling.posted is not None and not self.filling.command

    @property
    def is_folded(self) -> bool:
        """Tell whether the part is folded away: seldom used, blank, and not being worked on."""
        return self.plan.seldom and self.is_blank() and not self.filling.works_on(self.prefix)

    @property
    def helper(self) -> FormHelper:
        """Return the crispy layout of the plain keys: a grid that becomes one column on a phone."""
        made = FormHelper()
        made.form_tag = False
        made.disable_csrf = True
        made.layout = Layout(Div(*self.plain.fields, css_class="facts-grid"))
        return made

    @property
    def problems(self) -> list[tuple[str, str]]:
        """Return every refusal with the place on the page where it stands."""
        found = [(self.prefix, sentence) for sentence in self.errors]
        if self.plain.is_bound:
            for key, sentences in self.plain.errors.items():
                place = self.plain[key].id_for_label if key in self.plain.fields else self.prefix
                found += [(place, str(sentence)) for sentence in sentences]
        for part in self.parts.values():
            if not part.is_left_out() or part.errors:
                found += part.problems
        return found

    def is_blank(self) -> bool:
        """Tell whether nothing at all was typed."""
        return self.plain.is_blank() and all(part.is_blank() for part in self.parts.values())

    def is_left_out(self) -> bool:
        """Tell whether an optional part was left blank, so that it is not known."""
        return self.plan.optional and self.is_blank()

    def is_valid(self) -> bool:
        """Check each field by itself; what several of them say together is checked by ``facts``."""
        if self.is_left_out():
            return True
        parts = [part.is_valid() for part in self.parts.values()]
        return self.plain.is_valid() and all(parts)

    def stated(self) -> dict[str, Any]:
        """Return the cleaned document without what is not known."""
        document = {key: plain(value) for key, value in self.plain.cleaned_data.items()}
        for key, part in self.parts.items():
            if not part.is_left_out() or fields_of(self.plan.model)[key].required:
                document[key] = part.stated()
        return {key: value for key, value in document.items() if value is not None}

    def place(self, location: Location, sentence: str) -> None:
        """Put a refusal beside the field that it is about, or on the nearest part around it."""
        if not location:
            self._place_here(in_words(sentence, self.plan.model))
        elif location[0] in self.parts:
            self.parts[str(location[0])].place(location[1:], sentence)
        elif location[0] in self.plain.fields:
            self.plain.add_error(str(location[0]), in_words(sentence, self.plan.model))
        else:
            self.errors.append(in_words(sentence, self.plan.model))

    @contextmanager
    def refusals(self) -> Iterator[None]:
        """Put the refusal of an act inside the block into the form; who may act and who came first pass on."""
        try:
            yield
        except (NotAllowedError, ChangedMeanwhileError):
            raise
        except AccordError as error:
            self.place((), str(error))

    def _place_here(self, sentence: str) -> None:
        """A sentence about several fields stands beside the first one that it names, if it names one."""
        named = [
            (at, column.key)
            for column in self.plan.columns
            if (at := sentence.lower().find(column.label.lower())) >= 0 and column.label.count(" ")
        ]
        if named:
            self.plain.add_error(min(named)[1], sentence)
        else:
            self.errors.append(sentence)


class RowsForm:
    """A list of documents in a form: a table where they are plain, else one block below the other."""

    is_list = True

    def __init__(self, plan: Plan, filling: Filling, prefix: str, given: Sequence[Facts] | None = None) -> None:
        self.plan, self.prefix, self.filling = plan, prefix, filling
        self.given = list(given or [])
        self.errors: list[str] = []
        self.is_table = not plan.parts
        quantities = [column for column in plan.columns if column.kind == "quantity"]
        self.head = UnitForm(quantities, filling.units, prefix=prefix, data=filling.posted) if self.is_table else None
        self.rows = [self._row(index, origin) for index, origin in self._indices()]
        self.used: list[DocumentForm] = []

    @property
    def fresh_row(self) -> DocumentForm:
        """Return the blank row that a script copies, with a word where its number goes."""
        return self._row(_FRESH, None)

    @property
    def problems(self) -> list[tuple[str, str]]:
        """Return every refusal with the place on the page where it stands."""
        found = [(self.prefix, sentence) for sentence in self.errors]
        return found + [problem for row in self.rows if not row.is_blank() for problem in row.problems]

    @property
    def is_folded(self) -> bool:
        """Tell whether the list is folded away: seldom used, blank, and not being worked on."""
        return self.plan.seldom and self.is_blank() and not self.filling.works_on(self.prefix)

    @property
    def heads(self) -> list[tuple[str, str, Any]]:
        """Return label, fixed unit and unit choice for each column of a table."""
        if self.head is None:
            return []
        found = []
        for column in self.plan.columns:
            choice = f"{column.key}_unit"
            unit = "" if column.unit in {"", "1"} or choice in self.head.fields else column.unit
            found.append((self.plan.label(column), unit, self.head[choice] if choice in self.head.fields else None))
        return found

    def is_blank(self) -> bool:
        """Tell whether no row holds anything."""
        return all(row.is_blank() for row in self.rows)

    def is_left_out(self) -> bool:
        """Tell whether the list is empty, so that the document's own rule for that holds."""
        return self.is_blank()

    def is_valid(self) -> bool:
        """Check each row that holds anything; blank rows are passed over."""
        self.used = [row for row in self.rows if not row.is_blank()]
        if self.head is not None and self.head.refusals:
            self.errors.extend(self.head.refusals)
            return False
        checked = [row.is_valid() for row in self.used]
        if not all(checked):
            return False
        if self.plan.in_order_of:
            self.used.sort(key=lambda row: row.plain.cleaned_data[self.plan.in_order_of])
        problem = self.plan.check_rows(self.stated()) if self.plan.check_rows else None
        if problem:
            self.place((problem[0],), problem[1])
        return problem is None

    def stated(self) -> list[dict[str, Any]]:
        """Return the cleaned documents of the rows that hold anything."""
        return [row.stated() for row in self.used]

    def place(self, location: Location, sentence: str) -> None:
        """Put a refusal on its row, or on the list as a whole."""
        if location and isinstance(location[0], int) and location[0] < len(self.used):
            self.used[location[0]].place(location[1:], sentence)
        else:
            self.errors.append(in_words(sentence, self.plan.model))

    def _row(self, index: int | str, origin: int | None) -> DocumentForm:
        given = self.given[origin] if origin is not None and origin < len(self.given) else None
        units = self.head.units if self.head is not None else None
        name = f"{self.prefix}-{index}"
        return DocumentForm(self.plan, self.filling, name, given, is_row=True, origin=origin, column_units=units)

    def _indices(self) -> list[tuple[int, int | None]]:
        """Return number and origin of each row; the origin is its place in the stated list, None for a new row."""
        if self.filling.posted is None:
            spare = self.plan.spare_rows if self.is_table or not self.given else 0
            places: list[tuple[int, int | None]] = [(place, place) for place in range(len(self.given))]
            return places + [(len(places) + place, None) for place in range(spare)]
        found = self._posted_indices(self.filling.posted)
        return self._after_command(found, self.filling.command)

    def _posted_indices(self, posted: Mapping[str, str]) -> list[tuple[int, int | None]]:
        named = re.compile(re.escape(self.prefix) + r"-(\d{1,6})-origin", re.ASCII)
        found = []
        for name in posted:
            if match := named.fullmatch(name):
                origin = posted[name]
                known = origin.isascii() and origin.isdigit() and len(origin) < 6
                found.append((int(match[1]), int(origin) if known else None))
        return found

    def _after_command(self, found: list[tuple[int, int | None]], command: str) -> list[tuple[int, int | None]]:
        fresh = (max((index for index, _ in found), default=-1) + 1, None)
        act, _, target = command.partition(":")
        if act == "add" and target == self.prefix:
            return [*found, fresh]
        for place, (index, _) in enumerate(found):
            if target == f"{self.prefix}-{index}":
                if act == "drop":
                    return found[:place] + found[place + 1 :]
                if act == "after":
                    return [*found[: place + 1], fresh, *found[place + 1 :]]
        return found


def facts_from(
    form: DocumentForm, model: type[Facts], merge: Callable[[dict[str, Any]], dict[str, Any]], at: Location = ()
) -> Any:
    """Return the whole document with the form's part merged in, or None after placing every refusal in the form.

    ``at`` is where the form's part stands in the whole document.
    """
    if not form.is_valid():
        return None
    try:
        return model.model_validate(merge(form.stated()))
    except ValidationError as error:
        for found in error.errors(include_url=False):
            location: Location = found["loc"]
            inside = location[: len(at)] == at
            form.place(location[len(at) :] if inside else (), refusal(dict(found), located=not inside))
        return None


def refusal(found: dict[str, Any], *, located: bool = False) -> str:
    """Write one problem of a validation error as a sentence for a form; ``located`` says where it stands as well."""
    parts = [label_of(part) for part in found["loc"] if isinstance(part, str)]
    label = parts[-1] if parts else "The document"
    where = f"{' › '.join(parts)}: " if located and parts else ""
    match found["type"]:
        case "value_error":
            return f"{where}{found['ctx']['error']}"
        case "quantity":
            return f"{where}{label} {found['msg']}"
        case "missing":
            return f"{where}{label} is missing; state it."
        case "too_short" | "too_long":
            given, least = found["ctx"]["actual_length"], found["ctx"].get("min_length")
            bound = f"at least {least}" if least else f"at most {found['ctx']['max_length']}"
            return f"{where}{label}: {given} given; state {bound}."
        case _:
            return f"{where}{label}: {found['msg'][0].lower()}{found['msg'][1:]}."
