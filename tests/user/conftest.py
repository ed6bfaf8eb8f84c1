"""Every test here has a home of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.user.folder import VARIABLE


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user folder that does not exist yet."""
    folder = tmp_path / "home"
    monkeypatch.setenv(VARIABLE, str(folder))
    return folder
