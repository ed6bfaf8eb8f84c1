"""A wheel built from the repository works outside the checkout, with all that comes along."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.terminal import Terminal

ROOT = Path(__file__).resolve().parent.parent
PIP = (sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet")


def run(command: Sequence[str], cwd: Path, **env: str) -> subprocess.CompletedProcess[str]:
    """Run a command to its end; its complaints are in the failure when it does not go well."""
    done = subprocess.run(
        command, cwd=cwd, env={**os.environ, **env}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built with the hatchling that the test extra installs: nothing is fetched."""
    folder = tmp_path_factory.mktemp("wheel")
    build = ("wheel", "--no-deps", "--no-build-isolation", "--no-index", "-w", str(folder))
    run((*PIP, *build, str(ROOT)), folder)
    (built,) = folder.glob("commission-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds the installed wheel and nothing else."""
    target = tmp_path_factory.mktemp("installed")
    run((*PIP, "install", "--no-deps", "--no-index", "--target", str(target), str(wheel)), target)
    return target


def test_the_wheel_carries_everything_that_the_program_reads(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        carried = {name: archive.read(name) for name in archive.namelist()}
    wanted = {
        f"commission/data/{folder}/{path.name}": path
        for folder in ("checklists", "sample_sites")
        for path in (ROOT / folder).glob("*.toml")
    } | {
        path.relative_to(ROOT).as_posix(): path
        for path in (ROOT / "commission").rglob("*")
        if path.suffix in (".py", ".tcss", ".json")
    }
    for kind in ("data/checklists/", "data/sample_sites/", "schemas/site.", ".tcss"):
        assert any(kind in name for name in wanted), kind
    assert {name: carried.get(name) for name in wanted} == {
        name: path.read_bytes() for name, path in wanted.items()
    }


def test_the_wheel_carries_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"commission"}
    assert {Path(name).suffix for name in names if name.startswith("commission/")} == {
        ".py",
        ".tcss",
        ".json",
        ".toml",
        ".html",
        ".js",
    }


def test_commands_run_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    program = (sys.executable, "-m", "commission")
    env = {"PYTHONPATH": str(installed), "COMMISSION_HOME": str(tmp_path / "user")}
    listed = run((*program, "samples"), tmp_path, **env).stdout
    samples = [Path(line.split(None, 1)[1]) for line in listed.split("\n\n")[0].splitlines()]
    assert samples
    assert all(sample.is_relative_to(installed) for sample in samples), listed
    checklists = sorted((installed / "commission" / "data" / "checklists").glob("*.toml"))
    assert checklists
    checked = run((*program, "check", *map(str, [*samples, *checklists])), tmp_path, **env).stdout
    assert checked.count("no problems") == len(samples) + len(checklists)


def test_the_walk_opens_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    env = {"PYTHONPATH": str(installed), "COMMISSION_HOME": str(tmp_path / "user")}
    command = [sys.executable, "-m", "commission", "open", "small-garden"]
    terminal = Terminal(command, env=env, cwd=tmp_path)
    try:
        terminal.wait_for("Who enters the readings here")
        terminal.press("ctrl+q")
        assert terminal.wait_end() == 0
    finally:
        if not terminal.ended:
            terminal.kill()
    assert list((tmp_path / "user" / "samples").glob("small-garden-new-*-1/record.toml"))
