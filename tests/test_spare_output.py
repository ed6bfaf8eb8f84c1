"""A controller with a pair of terminals that nothing is connected to: common, and no fault."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.report.review import review
from commission.user.signers import KnownSigners
from tests import walks
from tests.report.small import example
from tests.test_cli import ran

SPARE = """
[[output]]
id = "2"
rating = "40 VA"
regulation = "12 %"
stations_at_once = 2
"""


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The README's site with a spare output."""
    path = tmp_path / "corner.toml"
    path.write_text(example("site") + SPARE, "utf-8")
    return path


@pytest.mark.parametrize(
    "words", [["check"], ["expect"], ["expect", "--netlist"], ["size"], ["print"]], ids=" ".join
)
def test_every_command_takes_it(
    words: list[str], site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, *options = words
    code, _out, err = ran(capsys, command, str(site), *options)
    assert (code, err) == (0, "")


def test_nothing_is_expected_of_it(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No decoder draws anything, no station may run, no load is to be carried."""
    _code, out, _err = ran(capsys, "expect", str(site), "--json")
    _used, spare = json.loads(out)["outputs"]
    assert spare == {
        "output": "2", "standby_current_a": 0.0, "together": {}, "load": [], "paths": [],
    }  # fmt: skip


def test_a_job_on_it_is_walked_signed_and_reviewed(site: Path) -> None:
    session = open_job(site, disk=Disk(), now=walks.clock())
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
    walks.walk_to_the_end(session)
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    content = (session.job.folder / "report.toml").read_bytes()
    assert review(content, "report.toml", KnownSigners()).state == "sound"
