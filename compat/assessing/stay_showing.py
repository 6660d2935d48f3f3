"""What the pages show of a worked-out stay: the plan, another plan beside it, pictures; and of a loading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from compat.assessing.beside_pictures import beside_picture
from compat.assessing.loading_pictures import loading_rate_picture, loading_tanks_picture
from compat.assessing.stay_pictures import data_address, pictures_of
from compat.stay.beside import beside_rows, most_saved
from compat.stay.loading import LoadingAnswer
from compat.stay.parts import StayAnswer
from compat.stay.variants import Variant
from shared.pictures import PictureUnits


def stay_context(answer: StayAnswer, variants: Sequence[Variant], chosen: str, units: PictureUnits) -> dict[str, Any]:
    """Return a plan with the chosen other one beside it, or with the one that saves most."""
    beside = next((one for one in variants if one.key == chosen), None) or most_saved(variants)
    context = {"stay": answer, "variants": variants, "pictures": pictures_of(answer.series, units), "beside": beside}
    if beside is not None and answer.series.hour and beside.answer.series.hour:
        title = f"This plan and {beside.label}"
        names = ("this plan", beside.label)
        drawn = beside_picture(answer.series, beside.answer.series, names=names, title=title, units=units)
        context |= {"beside_rows": list(beside_rows(answer, beside.answer)), "beside_picture": data_address(drawn)}
    return context


def loading_context(answer: LoadingAnswer, units: PictureUnits) -> dict[str, Any]:
    """Return a loading with its pictures."""
    rate, tanks = loading_rate_picture(answer, units=units), loading_tanks_picture(answer)
    return {
        "loading": answer,
        "loading_pictures": [
            {"address": data_address(rate), "words": "Loading rate over the hours with what binds."},
            {"address": data_address(tanks), "words": "Volume in each tank over the hours, with its stop."},
        ],
    }
