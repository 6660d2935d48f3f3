"""What one step would buy where surge has its say: the usual steps, and a longer closing time (pure: no Django)."""

from __future__ import annotations

from compat.case.steps import Step, step_between, steps_of
from compat.surge.asking import stated_valves
from compat.surge.limiting import KEYS, WithinSurge, answer_within_surge
from shared.surge_facts import LONGEST_CLOSING_S

CLOSING_STEP_S = 10.0


def steps_within_surge(within: WithinSurge) -> tuple[Step, ...]:
    """Return what each step would buy; the rates that surge leaves hold for each as for the answer itself."""
    found = steps_of(within.case, within.answer)
    longer = _longer(within)
    return found if longer is None else (*found, longer)


def _longer(within: WithinSurge) -> Step | None:
    """Return what a longer closing time would buy, where one sets the rate."""
    case, binding = within.study.case, within.answer.binding or ""
    valve = next((one for one in stated_valves(case) if binding == f"{KEYS}-rate-{one.key}"), None)
    time = None if valve is None else within.study.closing_time_s(valve)
    if time is None or time + CLOSING_STEP_S > LONGEST_CLOSING_S:
        return None
    agreed = case.agreed.model_copy(update={"closing_time_s": time + CLOSING_STEP_S})
    own = [limit for limit in case.own_limits if not limit.row_key(0).startswith(KEYS)]
    after = answer_within_surge(case.model_copy(update={"agreed": agreed, "own_limits": own})).answer
    label = f"{CLOSING_STEP_S:g} s more for valves to shut"
    return step_between("closing-time", label, case, within.answer, after)
