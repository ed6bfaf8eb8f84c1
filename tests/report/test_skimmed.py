"""A report found sound without parsing most of it: the same is said as when all is parsed."""

from __future__ import annotations

import tomllib
from collections.abc import Callable

import pytest

from commission.report import examined as module
from commission.report.examined import examined
from commission.report.skimmed import MADE_AGAIN, Skimmed
from tests.report import small
from tests.report.forged import both_ways, forged, said
from tests.report.golden_reports import golden
from tests.report.mutated import mutated
from tests.report.sealing import countersigned, resealed_last, with_files

NAME = "report.toml"


@pytest.fixture(scope="module", params=["sound", "troubled", "countersigned", "golden"])
def report(request: pytest.FixtureRequest) -> bytes:
    """Reports of several kinds."""
    made: dict[str, Callable[[], bytes]] = {
        "sound": small.sound,
        "troubled": small.troubled,
        "countersigned": lambda: countersigned(small.sound()),
        "golden": golden(1).read_bytes,
    }
    return made[str(request.param)]()


def test_what_is_left_out_is_there_for_whoever_asks(report: bytes) -> None:
    whole, skimmed = tomllib.loads(report.decode("utf-8")), Skimmed(report)
    assert dict(skimmed) == whole
    assert len(skimmed) == len(whole)
    for key in whole:
        assert skimmed[key] == whole[key]
    assert skimmed.get("no such part") is None


def test_it_is_left_out_of_what_is_parsed(report: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    parsed: list[int] = []
    loads = tomllib.loads

    def counting(text: str) -> dict[str, object]:
        parsed.append(len(text.encode("utf-8")))
        return loads(text)

    monkeypatch.setattr(tomllib, "loads", counting)
    skimmed = Skimmed(report)
    assert skimmed["record"]["entries"] == len(skimmed.blocks) > 0
    assert len(parsed) == 1
    assert parsed[0] < 0.9 * len(report)
    assert "path" in MADE_AGAIN
    assert skimmed["path"]
    assert parsed[1:] == [len(report)]


def test_the_same_is_said_of_it_as_when_all_is_parsed(
    report: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick = examined(report, NAME)
    monkeypatch.setattr(module, "_at_first", lambda *_: None)
    slow = examined(report, NAME)
    assert repr(said(quick)) == repr(said(slow))


@pytest.mark.parametrize("seed", range(4))
def test_the_same_is_said_of_spoilt_ones(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    for what, spoilt in mutated(25, seed):
        quick = examined(spoilt, NAME, quick=True)
        with monkeypatch.context() as patch:
            patch.setattr(module, "_at_first", lambda *_: None)
            slow = examined(spoilt, NAME, quick=True)
        assert repr(said(quick)) == repr(said(slow)), what


def test_the_same_is_said_of_forged_ones() -> None:
    states = set()
    for what, content in forged(24, 20_310_504):
        seen, quick, whole = both_ways(content)
        assert quick == whole, what
        states.add(seen.state)
    assert states > {"sound", "altered"}


@pytest.mark.parametrize("more", [b"[[history]]\nnumber = 1\n", b"[[path]]\n", b"[[stage]]\n"])
def test_the_same_is_said_of_parts_added_further_down(
    more: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = countersigned(small.sound())
    at = content.rindex(b"[[signoff]]")
    spoilt = resealed_last(content[:at] + more + b"\n" + content[at:])
    quick = examined(spoilt, NAME)
    monkeypatch.setattr(module, "_at_first", lambda *_: None)
    assert repr(said(quick)) == repr(said(examined(spoilt, NAME)))


def test_a_text_of_several_lines_is_no_table() -> None:
    """No report has one above its record; where it had, a line of it might look like a part."""
    content = small.sound()
    text = b"said = '''\n[path]\n'''\n"
    with pytest.raises(ValueError, match="several lines"):
        Skimmed(content.replace(b"\n[job]\n", b"\n[job]\n" + text, 1))


@pytest.mark.parametrize("looks", ["[[history]]\nnumber = 1\n", "[record]\n", "[[path]]\n"])
def test_a_site_that_looks_like_a_part_of_a_report_is_none(
    looks: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = small.sound()
    files = tomllib.loads(content.decode("utf-8"))["files"]
    spoilt = with_files(content, f"{files['site']}\n{looks}", files["checklist"])
    quick = examined(spoilt, NAME)
    monkeypatch.setattr(module, "_at_first", lambda *_: None)
    assert repr(said(quick)) == repr(said(examined(spoilt, NAME)))
