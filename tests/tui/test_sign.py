"""Signing by keys: who signs as what, and what is said when it worked."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from commission.problems import CouldNotWrite
from commission.report.review import review
from commission.session import Session
from commission.user import seen_reports, signers
from commission.user.signers import load_signers
from tests.tui.test_walk_behaviour import SAMPLE
from tests.tui.walking import Walk, play
from tests.walks import WRITER, begin, first, walk_until

FORM = {"company": "Example Irrigation (invented)", "licence": "L-1", "accept": "yes"}


def signed_by_keys(session: Session) -> str:
    """Sign a job through the menu, keeping what the form proposes; the screen after it."""
    seen = []

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.finish(**FORM)
        await walk.shows("Key that signed")
        seen.append(walk.text)

    play(session, scene, (160, 40))
    return seen[0]


@pytest.mark.parametrize(
    ("kind", "signs_as", "statement"),
    [
        ("new", "installer", "I carried out or supervised this commissioning"),
        ("recheck", "installer", "I carried out or supervised this recheck"),
        ("inspection", "inspector", "I inspected this system"),
    ],
)
def test_whoever_signs_signs_as_the_kind_of_job_asks(
    tmp_path: Path, kind: str, signs_as: str, statement: str
) -> None:
    session = begin(tmp_path, SAMPLE, kind=kind)
    signed_by_keys(session)
    report = tomllib.loads((session.job.folder / "report.toml").read_text("utf-8"))
    (block,) = report["signoff"]
    assert (block["signs_as"], block["role"], block["name"]) == (signs_as, signs_as, WRITER)
    assert block["statement"].startswith(statement)


def test_an_installer_remembered_signs_an_inspection_as_inspector(tmp_path: Path) -> None:
    for kind, signs_as in (("new", "installer"), ("inspection", "inspector")):
        folder = tmp_path / kind
        folder.mkdir()
        session = begin(folder, SAMPLE, kind=kind)
        signed_by_keys(session)
        report = tomllib.loads((session.job.folder / "report.toml").read_text("utf-8"))
        assert report["signoff"][0]["role"] == signs_as


def test_after_signing_verdict_path_and_key_are_said(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    seen = signed_by_keys(session)
    path = session.job.folder / "report.toml"
    report = tomllib.loads(path.read_text("utf-8"))
    assert f"Signed and saved: {report['verdict']}" in seen
    assert str(path) in "".join(line.strip() for line in seen.splitlines())
    assert report["signoff"][0]["fingerprint"] in seen
    assert "Saved on disk" not in seen


def test_ones_own_key_is_known_from_then_on(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    signed_by_keys(session)
    content = (session.job.folder / "report.toml").read_bytes()
    found = review(content, "report.toml", load_signers())
    assert [(one.name, one.trust) for one in found.signoffs] == [(WRITER, "known")]
    assert [(one.name, one.note) for one in load_signers().all] == [(WRITER, "my own key")]


def test_known_signers_that_cannot_be_written_undo_no_signature(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_new: object) -> None:
        raise CouldNotWrite("the signers: No space left on device")

    monkeypatch.setattr(signers, "know_signer", refuse)
    session = begin(tmp_path, SAMPLE)
    assert "Signed and saved" in signed_by_keys(session)


def test_what_is_not_decided_is_asked_before_the_form_of_a_signature(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)
    earth = first(session, lambda step: step.item.compare == "earth-resistance")
    walk_until(session, earth)
    session.answer(earth, "10 ohm")

    async def scene(walk: Walk) -> None:
        await walk.menu("Sign and save the report")
        await walk.shows("Before signing, say what becomes of this")
        assert "MARGINAL" in walk.text
        await walk.choose("Hand over with this as a named exception")
        await walk.press("a rod will be added", "enter", "enter")
        await walk.menu("Sign and save the report")
        await walk.shows("everything that is accepted by signing")

    play(session, scene)


def test_a_register_that_cannot_be_kept_undoes_no_signature(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_seen: object) -> None:
        raise CouldNotWrite("the register: No space left on device")

    monkeypatch.setattr(seen_reports, "keep_seen", refuse)
    session = begin(tmp_path, SAMPLE)
    words = signed_by_keys(session)
    assert "Not taken into the register of reports seen: the register: No space left" in words
    assert (session.job.folder / "report.toml").exists()
