"""What a token may be used for (pure: no Django)."""

from enum import StrEnum


class Scope(StrEnum):
    """One thing that the owner of a token may let a program do; the person's own role and side hold as well."""

    READ = "read"
    SHIPS = "ships"
    BERTHS = "berths"
    ASSESSMENTS = "assessments"
    ACCORDS = "accords"
    RECORDS = "records"


WORDS = {
    Scope.READ: "Read what I may read",
    Scope.SHIPS: "Add and revise ships",
    Scope.BERTHS: "Add and revise berths",
    Scope.ASSESSMENTS: "Store assessments",
    Scope.ACCORDS: "Propose and accept values, answer checklist items, settle and withdraw accords (never sign)",
    Scope.RECORDS: "Write readings into transfer records",
}
