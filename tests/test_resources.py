"""Checklists and samples are found beside the package and inside it, and copied before work."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from commission import resources
from commission.problems import InputRefused
from commission.site.load import load_site

SITE = 'kind = "commission site"\nformat = 1\n'


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package folder of our own with one sample inside, as in a wheel, and others beside it."""
    inside = tmp_path / "lib" / "commission"
    (inside / "data" / "sample_sites").mkdir(parents=True)
    (inside / "data" / "sample_sites" / "in-wheel.toml").write_text(SITE)
    (inside.parent / "checklists").mkdir()
    (inside.parent / "checklists" / "beside.toml").write_text(SITE)
    (inside.parent / "checklists" / "notes.txt").write_text("no checklist")
    monkeypatch.setattr(resources, "_PACKAGE", inside)
    return inside


def test_found_in_the_wheel_and_in_a_checkout(package: Path) -> None:
    assert list(resources.samples()) == ["in-wheel"]
    assert list(resources.checklists()) == ["beside"]


def test_this_program_has_both() -> None:
    assert resources.samples()
    assert resources.checklists()


def test_a_copy_is_made_once_and_never_overwritten(package: Path, tmp_path: Path) -> None:
    copy = resources.copy_sample("in-wheel", tmp_path / "mine" / "deep")
    assert copy.read_text() == SITE
    assert resources.is_sample(package / "data" / "sample_sites" / "in-wheel.toml")
    assert not resources.is_sample(copy)
    if sys.platform != "win32":
        assert copy.stat().st_mode & 0o077 == 0
    copy.write_text("changed by the user")
    assert resources.copy_sample("in-wheel", copy.parent) == copy
    assert copy.read_text() == "changed by the user"


@pytest.mark.parametrize("name", resources.samples())
def test_a_copy_names_no_schema_that_is_not_there(name: str, tmp_path: Path) -> None:
    """What it says instead is done, and then it stands; else the copy is the sample."""
    copy, sample = resources.copy_sample(name, tmp_path), resources.samples()[name]
    text = copy.read_text("utf-8")
    assert not text.startswith("#:schema")
    assert "commission schema site > site.schema.json" in text
    assert text.split("\n")[2:] == sample.read_text("utf-8").split("\n")[1:]
    assert load_site(copy) == load_site(sample)


def test_only_a_path_to_a_schema_at_the_top_gives_way_to_words() -> None:
    for kept in ("", SITE, f"# first\n#:schema ../s.json\n{SITE}"):
        assert resources.with_schema_hint(kept) == kept
    for end in ("\n", "\r\n"):
        mended = resources.with_schema_hint(f"#:schema ../s.json{end}{SITE}")
        assert mended == resources.SCHEMA_HINT + SITE


def test_unknown_sample_names_the_nearest(package: Path, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="nearest valid: in-wheel"):
        resources.copy_sample("in-wheeel", tmp_path)
    with pytest.raises(InputRefused):
        resources.copy_sample("../../etc/passwd", tmp_path)


def test_nothing_installed_is_empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resources, "_PACKAGE", tmp_path / "nowhere")
    assert resources.samples() == resources.checklists() == {}
