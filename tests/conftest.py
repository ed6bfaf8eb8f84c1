"""Options and fixtures for all tests: a user's folder and a clock of their own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.golden import Golden


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--renew` writes the golden screens anew."""
    parser.addoption("--renew", action="store_true", help="write the golden screens anew")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Golden:
    """Compares screens with the files in tests/tui/golden."""
    return Golden(bool(request.config.getoption("--renew")))


@pytest.fixture(autouse=True)
def _own_user_folder(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """No test reads or writes the real user's folder."""
    folder = tmp_path_factory.mktemp("user")
    monkeypatch.setenv("COMMISSION_HOME", str(folder))
    return folder
