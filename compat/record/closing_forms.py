"""Forms with which a person signs: a record that is ready, or the change of watch."""

from __future__ import annotations

from typing import Any

from django import forms

from compat.accord.forms import SignForm, act_helper
from compat.record.watching import LONGEST_REMARK


class RecordSignForm(SignForm):
    """The office in which one signs a record, and one's own secret again."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = _helper("Sign this record", "Your secret is checked, and your key signs the record …")

    def said(self) -> dict[str, Any]:
        """Return what was typed, as the act takes it."""
        return {"consents": False} | self.cleaned_data


class WatchForm(SignForm):
    """The office in which one stands the watch, what was handed over, and one's own secret again."""

    remark = forms.CharField(
        label="What was handed over",
        required=False,
        max_length=LONGEST_REMARK,
        help_text="What the next watch must know: what is open, what was agreed meanwhile.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = ["title", "remark", "secret", "consents"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["seen_sha256"]
        self.helper = _helper("Take over the watch", "Your secret is checked, and your key signs …")

    def said(self) -> dict[str, Any]:
        """Return what was typed, as the act takes it."""
        return {"consents": False} | self.cleaned_data


def _helper(act: str, progress: str) -> Any:
    made = act_helper(act)
    made.attrs = {"data-progress": progress}
    return made
