"""The answer to a case within what surge allows: the rate that a closing time leaves, among all its limits (pure).

The batch kernel knows nothing of surge: a rate found here goes to it as one more stated limit on the rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from compat.case.answer import answer_case
from compat.case.answer_parts import Answer, LimitRow, Owner, State
from compat.case.case_file import AgreedFacts, CaseFile, OwnLimit
from compat.case.questions import SURGE_LEFT_OUT
from compat.surge.asking import StatedValve, stated_valves
from compat.surge.closing import ClosingRate, ClosingTimes, rate_for, times_for
from compat.surge.found import Found
from compat.surge.studying import SurgeStudy

SOURCE = "pressure surge, method of characteristics"
SURGE_HELD = (
    "Pressure surge is held against the stated ratings for the valves, times and walls as stated; where a limit of"
    " surge is not decided, or a rule or doubt asks for it, a specialist surge study decides."
)
KEYS = "surge"
"""How the keys of the limits that come from surge begin."""
_CLOSE = 1e-6
_HELD = 64
BOILED = "The liquid boils in this event, so pressures after it are not covered: ask for a specialist surge study."
_BOILS = "the liquid reaches its vapour pressure, which these figures do not cover: ask for a specialist surge study"


class SurgeRate(OwnLimit):
    """A rate that surge leaves, as the limit of a case that is only worked with and never stored."""

    key: str

    def row_key(self, number: int) -> str:  # noqa: ARG002 - it has a name of its own
        """Return the key of this limit's row."""
        return self.key


@dataclass(frozen=True)
class WithinSurge:
    """An answer within what surge allows.

    ``free`` is the answer before surge was asked, with its own study, and ``rates`` what closing comes to at its rate.
    ``case`` is the case with the rates that surge leaves as limits of its own, ``study`` that of the answered rate;
    ``refused`` are the closings that pass a rating at the free rate.
    """

    answer: Answer
    free: Answer
    free_study: SurgeStudy
    case: CaseFile
    study: SurgeStudy
    rates: tuple[ClosingRate, ...]
    refused: tuple[ClosingRate, ...]


def answer_within_surge(case: CaseFile, found: Found | None = None) -> WithinSurge:
    """Answer one case, its rate lowered to what the closing times of its valves leave.

    Speeds that are stated are kept: there a rate that surge does not allow is exceeded. Raises InputError as
    ``answer_case`` does.
    """
    free = answer_case(case)
    study = SurgeStudy(case, free.document())
    if study.system is None:
        return WithinSurge(_with_rows(free, (_undecided(study),)), free, study, case, study, (), ())
    asked = found or _found_before(_line_text(case), tuple(pump.speed_rpm for pump in free.pumps))
    rates = tuple(rate_for(study, valve, asked, covered=False) for valve in stated_valves(study.case))
    refused = tuple(rate for rate in rates if rate.verdict == "exceeded")
    limits = [limit for rate in rates if (limit := _limit(rate)) is not None]
    answer, limited, free_study = free, case, study
    if case.operation.speed != "as stated":
        limited = case.model_copy(update={"own_limits": [*case.own_limits, *limits]})
    if refused and limited is not case:
        answer = answer_case(limited)
        study = SurgeStudy(case, answer.document())
    at = answer.total_flow_m3_per_h or 0.0
    held = {row.key for row in answer.limits}
    rows = tuple(row for rate in rates if (row := rate_row(rate, at)).key not in held)
    answer = replace(_with_rows(answer, rows), cautions=_told(answer.cautions))
    return WithinSurge(answer, free, free_study, limited, study, rates, refused)


def _line_text(case: CaseFile) -> str:
    """Return all of a case that its surge depends on, at given speeds: most agreed values and limits change nothing."""
    agreed = AgreedFacts(
        closing_time_s=case.agreed.closing_time_s, surge_allowance_percent=case.agreed.surge_allowance_percent
    )
    speeds = [limit for limit in case.own_limits if limit.speed_rpm is not None]
    bare = {"title": "", "agreed": agreed, "own_limits": speeds, "tolerances": []}
    return case.model_copy(update=bare).model_dump_json()


@lru_cache(maxsize=_HELD)
def _found_before(_line: str, _speeds_rpm: tuple[float | None, ...]) -> Found:
    """Return what was found before of the same line at the same speeds, to be added to."""
    return Found()


def held_within_surge(case: CaseFile) -> WithinSurge:
    """Answer a case once: pages ask for the same one several times."""
    return _held(case.model_dump_json())


@lru_cache(maxsize=_HELD)
def _held(case_text: str) -> WithinSurge:
    return answer_within_surge(CaseFile.model_validate_json(case_text))


def with_times(within: WithinSurge, times: Sequence[ClosingTimes]) -> Answer:
    """Return the answer with the shortest closing times at its rate among its limits, one for each stated valve."""
    rows = (time_row(rate, found) for rate, found in zip(within.rates, times, strict=True))
    return _with_rows(within.answer, tuple(rows))


def times_within(within: WithinSurge, found: Found | None = None, *, safe: bool = True) -> tuple[ClosingTimes, ...]:
    """Search the shortest closing times at the answered rate; takes seconds, less without ``safe``."""
    return tuple(times_for(within.study, rate.valve, found, safe=safe) for rate in within.rates)


def rate_row(rate: ClosingRate, at_m3_per_h: float) -> LimitRow:
    """Return the limit on the rate that a valve's closing time makes, at the answered rate."""
    valve, key, allowed = rate.valve, _rate_key(rate.valve), rate.highest_m3_per_h
    if rate.closing_time_s is None:
        label = f"Rate for the closing time of {valve.named}"
        return _row(key, label, valve, "m³/h", at_m3_per_h, None, "not decided", _no_time(valve))
    label = _rate_label(rate)
    if rate.verdict == "boils" and (allowed is None or at_m3_per_h > allowed * (1.0 + _CLOSE)):
        clear = "" if allowed is None else f" above {allowed:,.0f} m³/h"
        ask = f"When {valve.named} shuts in {rate.closing_time_s:g} s{clear}, {_BOILS}."
        return _row(key, label, valve, "m³/h", at_m3_per_h, allowed, "not decided", ask)
    if allowed is None:
        ask = (
            "No rate keeps the ratings in this time: agree a longer closing time, or ask for a specialist surge study."
        )
        return _row(key, label, valve, "m³/h", at_m3_per_h, None, "exceeded", ask)
    return _row(key, label, valve, "m³/h", at_m3_per_h, allowed)


def time_row(rate: ClosingRate, times: ClosingTimes) -> LimitRow:
    """Return a valve's shortest closing time against the time that counts, both in seconds."""
    valve, needed, time = rate.valve, times.within_ratings_s, rate.closing_time_s
    key, label = f"{KEYS}-closing-{valve.key}", f"Shortest closing time of {valve.named} against its time"
    value = None if needed is None else float(needed)
    if time is None:
        return _row(key, label, valve, "s", value, None, "not decided", _no_time(valve))
    if needed is None:
        ask = "No closing time up to 600 s keeps the ratings: ask for a specialist surge study."
        return _row(key, label, valve, "s", None, time, "exceeded", ask)
    if times.verdict == "boils":
        return _row(key, label, valve, "s", value, time, "not decided", f"In this time {_BOILS}.")
    return _row(key, label, valve, "s", value, time)


def _limit(rate: ClosingRate) -> SurgeRate | None:
    """A rate that is safe up to all that the pumps give, or that is only covered up to there, limits nothing."""
    if rate.highest_m3_per_h is None or rate.every_rate or rate.verdict == "boils":
        return None
    return SurgeRate(
        key=_rate_key(rate.valve),
        name=_rate_label(rate),
        owner=_owner(rate.valve),
        source=SOURCE,
        rate_m3_per_h=rate.highest_m3_per_h,
    )


def _rate_key(valve: StatedValve) -> str:
    return f"{KEYS}-rate-{valve.key}"


def _rate_label(rate: ClosingRate) -> str:
    return f"Rate at which {rate.valve.named} may shut in {rate.closing_time_s:g} s"


def _owner(valve: StatedValve) -> Owner:
    return "ship" if valve.owner == "ship" else "terminal"


def _no_time(valve: StatedValve) -> str:
    return f"Agree a closing time, or ask the {valve.owner} how {valve.named} is set."


def _undecided(study: SurgeStudy) -> LimitRow:
    """No run is named: the ship may read this and the terminal may keep its line data to itself."""
    count = len(study.questions)
    ask = "Ask ship and terminal for walls, valves and closing times; the part on surge lists what is missing."
    if not count:
        ask = "The part on surge says why it can't be worked out; ask for a specialist surge study where one is needed."
    label = "Pressure surge when a valve shuts or the pumps trip"
    return LimitRow(KEYS, label, "both", SOURCE, "not decided", "bar", None, None, None, ask)


def _row(
    key: str,
    label: str,
    valve: StatedValve,
    unit: str,
    value: float | None,
    allowed: float | None,
    state: State | None = None,
    ask: str = "",
) -> LimitRow:
    margin = None if value is None or allowed is None else allowed - value
    if state is None:
        over = margin is not None and margin < -_CLOSE * abs(allowed or 0.0)
        state = "exceeded" if over else "kept"
    elif state == "not decided":
        margin = None
    return LimitRow(key, label, _owner(valve), SOURCE, state, unit, value, allowed, margin, ask)


def _with_rows(answer: Answer, rows: tuple[LimitRow, ...]) -> Answer:
    return replace(answer, limits=(*answer.limits, *rows))


def _told(cautions: Sequence[str]) -> tuple[str, ...]:
    return tuple(SURGE_HELD if text == SURGE_LEFT_OUT else text for text in cautions)
