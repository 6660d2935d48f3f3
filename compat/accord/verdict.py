"""What verifying a plan comes to: who signed, who is missing, what is wrong (pure: no Django)."""

from __future__ import annotations

from dataclasses import dataclass, field

from compat.accord.checklist.item import Side
from compat.accord.plan_file import PlanFile, SignedBy


@dataclass(frozen=True)
class SignatureVerdict:
    """One signature: whose it says it is, and why it does not hold (empty where it does)."""

    side: Side | None
    person: str
    organisation: str
    title: str
    signed_at: str
    problem: str = ""
    time_stamp: str = ""

    @property
    def valid(self) -> bool:
        """Tell whether the signature holds."""
        return not self.problem

    def sentence(self) -> str:
        """Say who signed, in one sentence."""
        stamp = f" {self.time_stamp}" if self.time_stamp else ""
        who = f"{self.person}, {self.title}, {self.organisation}"
        return f"Signed for the {self.side} by {who}, at {self.signed_at}.{stamp}"


@dataclass(frozen=True)
class Verdict:
    """The outcome for one plan; ``file_problems`` concern the file as a whole."""

    file: PlanFile | None
    signatures: tuple[SignatureVerdict, ...] = ()
    file_problems: tuple[str, ...] = ()
    told: tuple[str, ...] = field(default=())
    """What else a reader should know, such as until when the plan holds."""

    @property
    def missing(self) -> tuple[Side, ...]:
        """Return the sides for which no signature holds."""
        found = {one.side for one in self.signatures if one.valid}
        return tuple(side for side in Side if side not in found)

    @property
    def problems(self) -> tuple[str, ...]:
        """Return a sentence for each thing that is wrong; a missing side is not among them."""
        return self.file_problems + tuple(one.problem for one in self.signatures if not one.valid)

    @property
    def holds(self) -> bool:
        """Tell whether both sides signed exactly these bytes."""
        return self.file is not None and not self.missing and not self.problems

    def signed_by(self) -> tuple[SignedBy, ...]:
        """Return who signed, as the printed plan names them."""
        return tuple(
            SignedBy(one.side, one.person, one.title, one.signed_at)
            for one in self.signatures
            if one.valid and one.side is not None
        )

    def sentences(self) -> list[str]:
        """Return the outcome in sentences, good and bad."""
        found = [f"{self.file.title}: SHA-256 of the signed bytes {self.file.sha256}."] if self.file else []
        found += [one.sentence() for one in self.signatures if one.valid]
        found += [f"No valid signature for the {side}." for side in self.missing]
        return [*found, *self.problems, *self.told]
