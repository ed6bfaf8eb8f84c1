"""`commission new`: from a list, from a report, by the form; never over a file that is there."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pytest

from commission import cli
from commission.authoring.catalogue import own_kinds
from commission.authoring.draft import Kinds, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly, path_name
from commission.authoring.shown import summary
from commission.authoring.writing import site_text
from commission.problems import InputRefused
from commission.resources import samples
from commission.site.changes.kinds import Length
from commission.site.load import load_site, parse_site
from tests import walks
from tests.report import small
from tests.report.sealing import resealed

LIST = "zone,box,distance (ft),wire,area\n1,B1,120,14 AWG,Lawn\n2,B2,260,14 AWG,Roses\n"
KINDS = """\
[solenoid_kind.big-valve]
inrush_current = "0.5 A"
holding_current = "0.25 A"

[cable_kind.thick]
conductor = "10 AWG"
"""
Output = pytest.CaptureFixture[str]


@pytest.fixture
def listed(tmp_path: Path) -> Path:
    path = tmp_path / "list.csv"
    path.write_text(LIST, "utf-8")
    return path


def new(*words: object) -> int:
    return cli.main(["new", *map(str, words)])


def test_a_list_is_shown_as_understood_and_written(
    listed: Path, tmp_path: Path, capsys: Output
) -> None:
    path = tmp_path / "site.toml"
    assert new(path, "--from", listed, "--yes") == 0
    out = capsys.readouterr().out
    assert "station      from 'zone'" in out
    assert "Output 1: will work as drawn" in out
    assert "the transformer: its voltage, rating and regulation" in out
    assert [s.waters for s in load_site(path).station] == ["Lawn", "Roses"]
    assert cli.main(["check", str(path)]) == 0


def test_what_it_comes_to_counts_in_the_singular_too(tmp_path: Path, capsys: Output) -> None:
    path = tmp_path / "one.csv"
    path.write_text(LIST.partition("2,B2")[0], "utf-8")
    assert new(tmp_path / "site.toml", "--from", path, "--yes") == 0
    assert "\n1 path, 1 box, 1 station\n" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("needed", "told"), [("22.8", "22.8"), ("22.9", "22.90"), ("22.95", "22.95")]
)
def test_what_it_needs_is_never_shown_as_what_it_gets(needed: str, told: str) -> None:
    text = samples()["small-garden"].read_text("utf-8")
    site = text.replace('min_voltage = "20 V"', f'min_voltage = "{needed} V"').encode()
    (line,) = (line for line in summary(parse_site(site, "s.toml")) if "lowest" in line)
    (pair,) = re.findall(r"lowest (\S+) V, needs (\S+) V", line)
    assert pair[1] == told
    assert (float(pair[0]) < float(told)) == ("FAILS" in line)
    assert pair[0] != told


def test_cable_on_which_idle_decoders_leave_nothing_cannot_work() -> None:
    """200 decoders of 3 mA along 60,000 ft of 14 AWG, by Ohm's law in the head.

    0.6 A enter the path and the mean of them travels half of it: 0.6 A x 300 ohm / 2 is 90 V, of
    26.9 V that there are. Reckoned on, the voltage would have turned over and seem to suffice.
    """
    answers = Answers("Far", "US", usual_supply("US"), (1,), "14 AWG", (200,), "300 ft", 1)
    text = site_text(drawn_evenly(answers, Kinds()))
    lines = list(summary(parse_site(text.encode(), "far.toml")))
    assert any(line.startswith("Output 1: CANNOT work as drawn") for line in lines)
    assert not any("will work" in line for line in lines)


def test_nothing_is_written_without_a_word_nor_over_a_file(
    listed: Path, tmp_path: Path, capsys: Output
) -> None:
    path = tmp_path / "site.toml"
    assert new(path, "--from", listed) == 2  # no terminal to ask in
    assert "add --yes" in capsys.readouterr().err
    assert not path.exists()
    path.write_text("mine", "utf-8")
    assert new(path, "--from", listed, "--yes") == 2
    assert "is replaced only when asked" in capsys.readouterr().err
    assert path.read_text("utf-8") == "mine"
    assert new(tmp_path) == 2
    assert "is no file" in capsys.readouterr().err


class Terminal(io.StringIO):
    """A terminal in which this is typed."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("typed", ["", "\n", "no\n", "what?\n"])
@pytest.mark.parametrize("sure", [False, True])
def test_at_a_terminal_a_file_stays_unless_somebody_says_yes(
    listed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, typed: str, *, sure: bool
) -> None:
    path = tmp_path / "site.toml"
    path.write_text("mine", "utf-8")
    words = ["--yes"] if sure else []
    monkeypatch.setattr(sys, "stdin", Terminal(typed))
    assert new(path, "--from", listed, *words) == 0
    assert path.read_text("utf-8") == "mine"
    assert len(list(tmp_path.iterdir())) == 2
    monkeypatch.setattr(sys, "stdin", Terminal("yes\n"))
    assert new(path, "--from", listed, *words) == 0
    assert len(load_site(path).station) == 2
    (kept,) = tmp_path.glob("site.before-????-??-??T??-??.toml")
    assert kept.read_text("utf-8") == "mine"


def test_problems_are_told_with_row_and_column(tmp_path: Path, capsys: Output) -> None:
    broken = tmp_path / "broken.csv"
    broken.write_text(LIST + "x,B3,far,14 AWG,Hedge\n", "utf-8")
    assert new(tmp_path / "site.toml", "--from", broken, "--yes") == 2
    err = capsys.readouterr().err
    assert "broken.csv:4: station: 'x' is no whole number" in err
    assert "broken.csv:4: distance:" in err
    assert not (tmp_path / "site.toml").exists()


def test_a_list_that_makes_no_whole_site_is_refused_in_words(
    tmp_path: Path, capsys: Output
) -> None:
    turning = tmp_path / "turning.csv"
    turning.write_text(
        "station,box,from,length (ft),cable\n1,B1,B2,50,14 AWG\n2,B2,B1,50,14 AWG\n", "utf-8"
    )
    assert new(tmp_path / "site.toml", "--from", turning, "--yes") == 2
    assert "Traceback" not in capsys.readouterr().err
    assert not (tmp_path / "site.toml").exists()


def test_own_kinds_are_copied_into_the_site(
    listed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Output
) -> None:
    monkeypatch.setenv("COMMISSION_HOME", str(tmp_path / "home"))
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "kinds.toml").write_text(KINDS, "utf-8")
    listed.write_text(LIST.replace("14 AWG", "thick"), "utf-8")
    path = tmp_path / "site.toml"
    assert new(path, "--from", listed, "--solenoid", "big-valve", "--yes") == 0
    site = load_site(path)
    assert site.cable_kind["thick"].conductor == "10 AWG"
    assert site.solenoid_kind["big-valve"].inrush_current_a == 0.5
    assert new(tmp_path / "b.toml", "--from", listed, "--decoder", "none-such", "--yes") == 2
    assert "there is no decoder 'none-such'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[solenoid_kind.v]\nholding_current = '1 A'\n", "solenoid_kind.v.inrush_current"),
        ("[pump_kind.v]\n", "pump_kind"),
        ("[cable_kind.'two words']\nconductor = '14 AWG'\n", "a name has 1 to 16"),
        ("[cable_kind.c]\nconductor = 'thick'\n", "cable_kind.c.conductor"),
        ("cable_kind", "kinds.toml"),
    ],
)
def test_a_broken_file_of_kinds_is_told(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "kinds.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputRefused) as refused:
        own_kinds(path)
    assert words in str(refused.value)


def test_a_report_gives_the_site_of_the_next_phase(tmp_path: Path, capsys: Output) -> None:
    report = tmp_path / "report.toml"
    report.write_bytes(small.sound())
    path = tmp_path / "next.toml"
    assert new(path, "--from", report, "--yes") == 0
    text = path.read_text("utf-8")
    assert text.startswith("# From report ")
    assert "SHA-256" in text.splitlines()[0]
    load_site(path)
    report.write_bytes(resealed(small.sound().replace(b'"accepted"', b'"refused!"', 1)))
    assert new(tmp_path / "other.toml", "--from", report, "--yes") == 2
    assert not (tmp_path / "other.toml").exists()
    capsys.readouterr()


def test_what_was_found_otherwise_on_site_is_in_the_next_phases_file(tmp_path: Path) -> None:
    """A length of the drawing was changed in the walk, another thing only noted."""
    with_changes = tmp_path / "job"
    with_changes.mkdir()
    session = small.begun(with_changes, invented=False)
    walks.walk_to_the_end(session)
    step = session.job.plan.steps[0]
    segment = session.job.site.path[0].segment[0]
    session.change_site(
        step, Length(session.job.site.path[0].id, segment.to_box, "321 m", "tape"), "taped"
    )
    session.change_drawing(step, "the lid", "green", "black", "seen")
    walks.walk_to_the_end(session)
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    path = tmp_path / "next.toml"
    assert new(path, "--from", session.job.folder / "report.toml", "--yes") == 0
    text = path.read_text("utf-8")
    assert "the lid: green is black (seen)" in text
    assert load_site(path).path[0].segment[0].length_m == 321.0


def test_paths_are_lettered_on_past_z() -> None:
    assert [path_name(n) for n in (0, 25, 26, 27, 701, 702)] == ["A", "Z", "AA", "AB", "ZZ", "AAA"]


@pytest.mark.parametrize("name", ['a "quoted" name', "tab\there", "Ö-garten", "# no comment"])
def test_any_name_comes_back_from_the_file(name: str) -> None:
    answers = Answers(name, "SI", usual_supply("SI", 2), (3, 3), "2.5 mm²", (2,) * 6, "45 m", 2)
    text = site_text(drawn_evenly(answers, Kinds()))
    if "\t" in name:
        with pytest.raises(InputRefused):
            parse_site(text.encode("utf-8"), "x")
        return
    site = parse_site(text.encode("utf-8"), "x")
    assert site.site.name == name
    assert len(site.output) == 2
    assert len(site.path) == 6
    assert len(site.station) == 24
