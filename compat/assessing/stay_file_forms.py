"""The form that takes a stay file or a loading file: uploaded, or as text that can be changed on the page."""

from __future__ import annotations

import json
from typing import Any

from django import forms

from compat.stay.file import KIND, StayFile, check_stay
from compat.stay.loading import FORMAT as LOADING_FORMAT
from compat.stay.loading import LoadingFile, check_loading
from shared.reading import LARGEST_DOCUMENT_BYTES, DocumentError, decode_object, too_large

_NAME = "The text"


class StayUploadForm(forms.Form):
    """A stay file or a loading file as the browser sends it; a file that is chosen counts before the text."""

    file = forms.FileField(
        required=False,
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
    )
    text = forms.CharField(
        label="The file as text",
        required=False,
        strip=False,
        max_length=LARGEST_DOCUMENT_BYTES,
        widget=forms.Textarea(attrs={"rows": 18, "spellcheck": "false", "class": "file-text"}),
    )

    def __init__(self, *args: Any, of: str = "Stay file or loading file", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].label = of

    def found(self) -> StayFile | LoadingFile | None:
        """Return the checked file of the valid form, or None after putting each problem on the form."""
        file, text = self.cleaned_data["file"], self.cleaned_data["text"]
        place = "file" if file else "text"
        try:
            return self._checked(file, text)
        except DocumentError as error:
            for problem in error.problems:
                self.add_error(place, problem)
            return None

    def _checked(self, file: Any, text: str) -> StayFile | LoadingFile:
        if not file and not text.strip():
            raise DocumentError(["No file is chosen; choose a stay file or a loading file."])
        name = (file.name or "The file")[:60] if file else _NAME
        if file and file.size is not None and file.size > LARGEST_DOCUMENT_BYTES:
            raise DocumentError([too_large(name, file.size)])
        document = decode_object(file.read() if file else text.encode("utf-8"), name, KIND)
        if document.get("format") == LOADING_FORMAT:
            return check_loading(document, name)
        return check_stay(document, name)


def file_text(file: StayFile | LoadingFile) -> str:
    """Return a file as text that a person can change."""
    return json.dumps(file.model_dump(mode="json", exclude_none=True), indent=1, ensure_ascii=False)
