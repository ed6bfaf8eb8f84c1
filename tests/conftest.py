"""Options and fixtures for all tests: a user's folder and a clock of their own."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from tests.tui.golden import Golden

SEED = "COMMISSION_SEED"


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--renew` writes the golden screens anew."""
    parser.addoption("--renew", action="store_true", help="write the golden screens anew")


def pytest_configure() -> None:
    """Another random state for the campaign each time; processes started later have the same."""
    os.environ.setdefault(SEED, str(random.SystemRandom().randrange(1, 10**6)))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say by which random state the campaign can be had again, also when nothing was found."""
    terminalreporter.write_line(f"random state of the campaign: {SEED}={os.environ[SEED]}")
    reports = [one for kind in terminalreporter.stats.values() for one in kind]
    seconds = sum(getattr(one, "duration", 0.0) for one in reports if _is_campaign(one))
    terminalreporter.write_line(f"its short form took {seconds:.0f} s, all its parts together")


def _is_campaign(report: object) -> bool:
    return getattr(report, "nodeid", "").startswith("tests/campaign/")


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
