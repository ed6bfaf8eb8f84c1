"""Where the user's files live."""

from __future__ import annotations

import sys
from pathlib import Path

import platformdirs
import pytest

from commission.problems import CouldNotWrite
from commission.user.folder import (
    VARIABLE,
    config_folder,
    data_folder,
    make_private,
    samples_folder,
)


def test_the_variable_overrides_everything(home: Path) -> None:
    assert config_folder() == data_folder() == home
    assert samples_folder() == home / "samples"


@pytest.mark.parametrize("text", ["", "  "])
def test_without_it_the_platform_decides(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setenv(VARIABLE, text)
    assert config_folder() == Path(platformdirs.user_config_dir("commission", False))
    assert data_folder() == Path(platformdirs.user_data_dir("commission", False))


def test_a_relative_home_becomes_absolute(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(VARIABLE, "mine")
    assert data_folder() == tmp_path / "mine"


def test_folders_are_private(home: Path) -> None:
    assert make_private(home) == home
    if sys.platform != "win32":
        assert home.stat().st_mode & 0o077 == 0


def test_a_file_in_the_way_is_said_in_words(home: Path) -> None:
    home.write_text("in the way")
    with pytest.raises(CouldNotWrite):
        make_private(home / "below")
