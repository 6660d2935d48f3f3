"""Acts that make a stay part of an accord, or take it out again, while the accord is on the table."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from compat.accord.bargaining import standing, values_on_table
from compat.accord.models import Accord
from compat.accord.moving import check_on_table, locked
from compat.accord.permissions import check_acting_side
from compat.accord.staying import WorkedStay, stated_stay, stay_file_of, work_out_stay
from compat.accord.values import case_with
from compat.stay.file import StayFile
from shared.calc.errors import InputError
from shared.canonical import canonical_bytes, numbers_as_text, sha256_hex
from shared.models import Person
from shared.trail import Fact, record


@transaction.atomic
def plan_stay(*, by: Person, now: datetime, accord: Accord, file: StayFile) -> Accord:
    """Make the stay of a stay file part of the accord; the accord's own frozen case counts, not that of the file.

    Raises NotAllowedError for anyone who acts for neither side, InputError where the file is of another ship or
    berth, or does not fit the accord's case.
    """
    side = check_acting_side(by, accord)
    accord = locked(accord)
    check_on_table(accord)
    case = accord.case_file()
    for what, told, own in (
        ("ship", file.case.ship.name, case.ship.name),
        ("berth", file.case.berth.name, case.berth.name),
    ):
        if told != own:
            raise InputError(f"The stay file is of the {what} {told}; this accord is of {own}. Plan the stay of that.")
    stated = stated_stay(file)
    if stated == accord.stay:
        raise InputError("This stay is part of the accord already, so nothing was changed.")
    stay_file_of(case_with(accord.case, values_on_table(standing(accord))), stated, line_shared=line_shared(accord))
    Accord.objects.filter(pk=accord.pk).update(stay=stated)
    accord.refresh_from_db()
    digest = sha256_hex(canonical_bytes(numbers_as_text(stated)))
    facts: dict[str, Fact] = {"side": str(side), "stay_sha256": digest, "tanks": len(file.cargo_tanks)}
    record(act="stay planned", by=by, now=now, subject=accord.subject, facts=facts)
    return accord


@transaction.atomic
def drop_stay(*, by: Person, now: datetime, accord: Accord) -> Accord:
    """Take the stay out of the accord; the plan then says nothing of hours."""
    side = check_acting_side(by, accord)
    accord = locked(accord)
    check_on_table(accord)
    if accord.stay is None:
        raise InputError("No stay is part of this accord, so nothing was changed.")
    Accord.objects.filter(pk=accord.pk).update(stay=None)
    accord.refresh_from_db()
    record(act="stay taken out", by=by, now=now, subject=accord.subject, facts={"side": str(side)})
    return accord


def line_shared(accord: Accord) -> bool:
    """Tell whether the terminal shares the line data of the accord's berth."""
    return bool(accord.berth_revision.berth.line_data_shared)


def stay_on_table(accord: Accord) -> WorkedStay | None:
    """Return the accord's stay with the values on the table, None where no stay is part of it."""
    if accord.stay is None:
        return None
    return work_out_stay(accord.case, accord.stay, values_on_table(standing(accord)), line_shared=line_shared(accord))
