"""When the program itself fails: it ends in plain words, and no customer's data are printed."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pytest

from commission import cli
from commission.commands import open as opening
from commission.session import Preview, Session
from commission.tui import app as tui
from tests.tui.walking import Walk, play
from tests.walks import begin

SECRET = "Juniper-secret-4711"


def fail_with_secret(*_: object) -> Preview:
    """A fault of the program with a customer's data in its variables."""
    customer = SECRET
    raise RuntimeError(f"{len(customer)} characters were too many")


def test_a_failing_session_ends_the_screens_and_prints_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = begin(tmp_path, "small-garden")
    monkeypatch.setattr(Session, "preview", fail_with_secret)
    printed = io.StringIO()

    async def scene(walk: Walk) -> None:
        await walk.press("1")
        await walk.until(lambda: walk.app.failure is not None, "the failure")

    with (
        contextlib.redirect_stderr(printed),
        contextlib.redirect_stdout(printed),
        pytest.raises(RuntimeError, match="too many"),
    ):
        play(session, scene)
    assert printed.getvalue() == ""
    assert (session.job.folder / "unfinished.toml").exists()


def test_a_failing_walk_is_reported_in_words_with_a_private_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    session = begin(tmp_path, "small-garden")
    folder = session.job.folder
    session.close()

    def failing_run(self: tui.CommissionApp) -> None:
        try:
            fail_with_secret()
        except RuntimeError as error:
            self.failure = error

    monkeypatch.setattr(opening, "refuse_without_terminal", lambda: None)
    monkeypatch.setattr(tui.CommissionApp, "run", failing_run)
    assert cli.main(["open", str(folder)]) == 2
    said = capsys.readouterr().err
    assert "This is a fault of the program, not yours" in said
    assert "Every confirmed answer is on disk" in said
    assert SECRET not in said
    log = Path(said.strip().rsplit(" ", 1)[-1])
    assert SECRET not in log.read_text("utf-8")
    assert log.stat().st_mode & 0o077 == 0
