"""A signing key of the tests' own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from shared.authority import load_or_make_authority


@pytest.fixture(scope="session")
def signing_key_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make one key for the whole session."""
    path = tmp_path_factory.mktemp("key") / "signing.pem"
    load_or_make_authority(path)
    return path


@pytest.fixture(autouse=True)
def own_signing_key(settings: Any, signing_key_file: Path) -> None:
    """Sign with the tests' key, not with the one of this machine."""
    settings.SIGNING_KEY_FILE = signing_key_file
