"""Form fields for moments and zones: a day and time is always typed together with the zone it is meant in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django import forms

from shared.calc.errors import InputError
from shared.zones import UTC_NAME, offsets, places, zone_named

MOMENT_INPUT = "%Y-%m-%dT%H:%M"
_READ_AS = (MOMENT_INPUT, "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M")


class MomentWidget(forms.MultiWidget):
    """A box for day and time and a list of zones, posted as ``name`` and ``name_zone``."""

    template_name = "shared/widgets/moment.html"
    use_fieldset = False

    def __init__(self, zones: list[str], label: str) -> None:
        moment = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=MOMENT_INPUT)
        zone = forms.Select(choices=[(name, name) for name in zones], attrs={"aria-label": f"{label}: zone"})
        self.first_zone = zones[0]
        super().__init__(widgets={"": moment, "zone": zone})

    def decompress(self, value: Any) -> list[Any]:
        """Show a moment in the first zone."""
        return [value.astimezone(zone_named(self.first_zone)).strftime(MOMENT_INPUT) if value else "", self.first_zone]

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> list[str]:
        """Take moment and zone as posted; a moment without its zone is in UTC."""
        moment, zone = super().value_from_datadict(data, files, name)
        return [moment or "", zone or UTC_NAME]

    def id_for_label(self, id_: str, index: str = "0") -> str:
        """Let a click on the label go to the moment."""
        return f"{id_}_{index}" if id_ else id_


class MomentField(forms.Field):
    """A moment, clean with its zone. ``zones`` are offered, the first one shown first; UTC is always among them."""

    def __init__(
        self,
        *,
        label: str,
        required: bool = True,
        help_text: str = "",
        initial: datetime | None = None,
        zones: Iterable[str] = (),
    ) -> None:
        self.zones = list(dict.fromkeys([*(zone for zone in zones if zone), UTC_NAME]))
        self.name = label
        super().__init__(
            label=label,
            required=required,
            help_text=help_text,
            initial=initial,
            widget=MomentWidget(self.zones, label),
            error_messages={"required": f"{label} is missing; give day, time and zone."},
        )

    def clean(self, value: Any) -> datetime | None:
        """Return the moment with its zone, or None for an empty box that may be empty."""
        text, zone = (str(part).strip() for part in value) if value else ("", UTC_NAME)
        if not text:
            if self.required:
                raise forms.ValidationError(self.error_messages["required"], code="required")
            return None
        try:
            zoned = zone_named(zone)
        except InputError as error:
            raise forms.ValidationError(f"{self.name}: {error}", code="zone") from None
        for pattern in _READ_AS:
            try:
                return datetime.strptime(text, pattern).replace(tzinfo=zoned)
            except ValueError:
                continue
        raise forms.ValidationError(f"{self.name} is not a day and time; write it as 2026-03-21T14:30.", code="invalid")


def zone_field(
    label: str, help_text: str, *, none: str, more: Iterable[tuple[str, str]] = (), with_places: bool = True
) -> forms.ChoiceField:
    """Return a list of zones to choose from; ``none`` says what an empty choice means."""
    choices: list[Any] = [("", none), *more, ("Offsets from UTC", [(name, name) for name in offsets()])]
    if with_places:
        choices.append(("Places", [(name, name.replace("_", " ")) for name in places()]))
    return forms.ChoiceField(label=label, help_text=help_text, choices=choices, required=False)
