"""What both sides agree before readings begin: how often, how near to the plan, and what a drift leads to (pure)."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, ValidationError

from compat.calc.record.comparison import Accuracy, Rule
from shared.calc.units import BAR_PA
from shared.facts import Facts, quantity, sentences
from shared.reading import DocumentError


class Arrangement(Facts):
    """The arrangement of one record; how sure gauges are holds for 95 of 100 readings."""

    reading_every_min: quantity("min", 5, 240, "Time between readings")
    first_hour_every_min: quantity("min", 5, 60, "Time between readings in the first hour")
    watch_h: quantity("h", 1, 24, "Length of a watch")
    band_percent: quantity("%", 0, 50, "Band on rate and pressures, of what is expected")
    difference_percent: quantity("%", 0.1, 20, "Difference allowed between ship's and shore's quantity")
    pressure_sure_bar: quantity("bar", 0.001, 5, "How sure pressure gauges are, either way")
    rate_sure_percent: quantity("%", 0.05, 30, "How sure a rate is, either way")
    speed_sure_rpm: quantity("rpm", 0.1, 200, "How sure a pump's speed is, either way")
    false_alarm_percent: quantity("%", 0.01, 20, "Readings on plan that may raise an alarm all the same")
    explain_within_min: quantity("min", 1, 240, "Time in which a drift is explained")
    agreed_action: Annotated[str, Field(min_length=3, max_length=300)]

    def accuracy(self) -> Accuracy:
        """Return how sure gauges are, in SI."""
        return Accuracy(self.pressure_sure_bar * BAR_PA, self.rate_sure_percent / 100.0, self.speed_sure_rpm)

    def rule(self) -> Rule:
        """Return when a reading counts as drifted."""
        return Rule(self.band_percent / 100.0, self.false_alarm_percent / 100.0)


PROPOSAL = {
    "reading_every_min": 60.0,
    "first_hour_every_min": 15.0,
    "watch_h": 6.0,
    "band_percent": 5.0,
    "difference_percent": 0.5,
    "pressure_sure_bar": 0.1,
    "rate_sure_percent": 2.0,
    "speed_sure_rpm": 5.0,
    "false_alarm_percent": 1.0,
    "explain_within_min": 30.0,
    "agreed_action": "Slow down to the start rate and call the other side; go on when both agree why.",
}
"""What a form offers first: hourly, and every quarter of an hour in the first one (common practice, no source)."""


def check_arrangement(document: object) -> Arrangement:
    """Return a checked arrangement; raise DocumentError with every problem."""
    try:
        return Arrangement.model_validate(document)
    except ValidationError as error:
        raise DocumentError([sentence for _, sentence in sentences(error)]) from None
