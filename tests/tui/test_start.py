"""The start screen: recent jobs as they stand, and every way in; by keys, and as golden screens."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.host import Disk
from commission.opening import open_job
from commission.resources import samples
from commission.starting import at_hand, sites_here
from commission.tui.start_app import StartApp
from commission.user.recent import remember_job
from tests.jobs import user_env
from tests.terminal import Terminal
from tests.tui.golden import Golden
from tests.tui.walking import LARGE, SMALL, Walk, play_in
from tests.walks import START, answer, begin, clock, first, walk_until

sizes = pytest.mark.parametrize("size", [SMALL, LARGE], ids=["80x24", "120x40"])


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job opened lately: at the first loop, which failed."""
    session = begin(tmp_path, "small-garden")
    loop = first(session, lambda step: step.item.compare == "loop-resistance")
    walk_until(session, loop)
    answer(session, loop, "11.6")
    session.close()
    remember_job(session.job.folder, START)
    return session.job.folder


@pytest.fixture
def gone_bad(tmp_path: Path, job: Path) -> Path:
    """Another one, whose record cannot be read any more."""
    bad = tmp_path / "spoilt-new-2031-05-03-1"
    bad.mkdir()
    (bad / "record.toml").write_text("no record\n", "utf-8")
    remember_job(bad, START)
    return bad


@sizes
def test_the_start(job: Path, gone_bad: Path, golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("76 of 156 steps")
        await walk.shows("x 1 fail")
        await walk.shows("cannot be read")
        golden.check(walk.app, "start")

    play_in(StartApp(), scene, size)


@sizes
def test_nothing_was_opened_yet(golden: Golden, size: tuple[int, int]) -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("Begin a job at a site")
        golden.check(walk.app, "start-first-time")

    play_in(StartApp(), scene, size)


@sizes
def test_where_to_begin(
    tmp_path: Path, golden: Golden, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("front-garden.toml", "orchard.toml"):
        (tmp_path / name).write_bytes(samples()["small-garden"].read_bytes())
    (tmp_path / "something-else.toml").write_text('kind = "something else"\n', "utf-8")

    async def scene(walk: Walk) -> None:
        await choose(walk, "Begin a job at a site")
        await walk.shows("front-garden.toml")
        assert "something-else" not in walk.text
        golden.check(walk.app, "start-where-to-begin")
        await walk.press("2", "enter")

    app = StartApp()
    play_in(app, scene, size)
    assert app.return_value == ("open", str(tmp_path / "orchard.toml"))


@sizes
def test_what_is_asked_for_an_edit_and_a_review(
    tmp_path: Path, golden: Golden, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "orchard.toml").write_bytes(samples()["small-garden"].read_bytes())

    async def scene(walk: Walk) -> None:
        await choose(walk, "Edit a site file")
        await walk.shows("orchard.toml")
        golden.check(walk.app, "start-edit")
        await walk.press("escape")
        await choose(walk, "Review a report")
        await walk.shows("Report, or a folder of reports")
        golden.check(walk.app, "start-review")
        await walk.press("escape", "enter")

    play_in(StartApp(), scene, size)


async def choose(walk: Walk, words: str) -> None:
    """Choose a line by the number before its words."""
    await walk.shows(words)
    line = next(line for line in walk.text.splitlines() if words in line)
    await walk.press(line.split()[0], "enter")


def chosen(words: str) -> object:
    """What the start screen ends with after a line was chosen."""
    app = StartApp()
    play_in(app, lambda walk: choose(walk, words))
    return app.return_value


def test_every_way_in_by_its_number(job: Path) -> None:
    assert chosen("Juniper Court garden") == ("open", str(job))
    assert chosen("Practise") == ("practice",)
    assert chosen("Quit") is None


def test_by_arrows_and_escape_leaves_nothing(job: Path) -> None:
    async def scene(walk: Walk) -> None:
        await walk.press("down", "down", "escape", "enter")

    app = StartApp()
    play_in(app, scene)
    assert app.return_value == ("open", str(job))


def test_a_path_is_asked_for_and_a_wrong_one_is_refused(tmp_path: Path) -> None:
    report = tmp_path / "report.toml"
    report.write_text("", "utf-8")

    async def scene(walk: Walk) -> None:
        await choose(walk, "Review a report")
        await walk.shows("Report, or a folder of reports")
        await walk.finish(path=str(tmp_path / "nothing.toml"))
        await walk.shows("there is no")
        await walk.finish(path=str(report))

    app = StartApp()
    play_in(app, scene)
    assert app.return_value == ("review", str(report))


def test_why_something_could_not_be_done_is_said() -> None:
    async def scene(walk: Walk) -> None:
        await walk.shows("another program holds it")

    play_in(StartApp("another program holds it"), scene)


def test_help_is_there_before_a_job_is(job: Path) -> None:
    async def scene(walk: Walk) -> None:
        await choose(walk, "Keys and help")
        await walk.shows("keep what is typed")

    play_in(StartApp(), scene)


def test_hostile_words_of_a_site_stay_words(tmp_path: Path) -> None:
    text = samples()["small-garden"].read_text("utf-8")
    site = tmp_path / "bad.toml"
    site.write_text(text.replace("Juniper Court garden", "[@click=app.bell]no[/] a[/]b"), "utf-8")
    session = open_job(site, disk=Disk(), now=clock())
    session.close()
    remember_job(session.job.folder, START)

    async def scene(walk: Walk) -> None:
        await walk.shows("[@click=app.bell]no[/] a[/]b")

    play_in(StartApp(), scene)


def test_what_is_at_hand(job: Path, gone_bad: Path, tmp_path: Path) -> None:
    found = at_hand(job, Disk())
    assert (found.steps, found.done, found.failed, found.marginal) == (156, 76, 1, 0)
    assert at_hand(gone_bad, Disk()).problem
    assert sites_here(tmp_path) == (tmp_path / "small-garden.toml",)
    assert sites_here(tmp_path / "nowhere") == ()


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    """The program alone in a terminal, in a folder with one site file."""
    (tmp_path / "orchard.toml").write_bytes(samples()["small-garden"].read_bytes())
    running = Terminal([sys.executable, "-m", "commission"], env=user_env(tmp_path), cwd=tmp_path)
    yield running
    if not running.ended:
        running.kill()


def test_a_newcomer_starts_comes_back_and_quits(terminal: Terminal) -> None:
    terminal.wait_for("Begin a job at a site")
    terminal.press("enter")
    terminal.wait_for("orchard.toml")
    terminal.press("1", "enter")
    terminal.wait_for("Who enters the readings here")
    terminal.press("ctrl+q")
    terminal.wait_for(" 0 of ")
    terminal.press("ctrl+q")
    assert terminal.wait_end() == 0


@sizes
def test_a_new_site_from_a_list_or_by_the_form(
    tmp_path: Path, golden: Golden, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that is there may be named: the command asks before it is replaced."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.csv").write_text("station,distance,cable\n", "utf-8")
    (tmp_path / "garden.toml").write_text("", "utf-8")
    (tmp_path / "folder").mkdir()

    async def by_list(walk: Walk) -> None:
        await choose(walk, "Draw up the site file")
        await walk.shows("Site file to write")
        golden.check(walk.app, "start-new-site")
        await walk.press("folder", "enter", "lost.csv", "enter", "enter")
        await walk.shows("is no file; name another")
        await walk.press(*["backspace"] * 6, "garden.toml", "enter", "enter", "enter")
        await walk.shows("there is no file")
        await walk.press(*["backspace"] * 8, "list.csv", "enter", "enter")

    app = StartApp()
    play_in(app, by_list, size)
    assert app.return_value == (
        "new", str(tmp_path / "garden.toml"), "--from", str(tmp_path / "list.csv"),
    )  # fmt: skip

    async def by_form(walk: Walk) -> None:
        await choose(walk, "Draw up the site file")
        await walk.shows("Site file to write")
        await walk.press("enter", "enter", "enter")

    app = StartApp()
    play_in(app, by_form, size)
    assert app.return_value == ("new", str(tmp_path / "site.toml"))


@pytest.mark.parametrize(
    "first",
    ["kind = 'commission site'", 'kind="commission site"', '\ufeffkind = "commission site"'],
)
def test_a_site_file_is_found_however_it_states_its_kind(tmp_path: Path, first: str) -> None:
    path = tmp_path / "garden.toml"
    path.write_text(f"{first}\nformat = 1\n", encoding="utf-8")
    assert sites_here(tmp_path) == (path,)
