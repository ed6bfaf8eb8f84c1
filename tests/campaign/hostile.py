"""Hostile text through every field of every file, into every screen, table, sheet, CSV and log.

Nothing in it is executed, nothing of it is lost, no control character comes out.
"""

from __future__ import annotations

import asyncio
import copy
import csv
import io
import json
import random
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import tomli_w

from commission.checklist.load import parse_checklist
from commission.crew import Hands
from commission.editing.edition import Edition
from commission.host import Disk
from commission.opening import open_job
from commission.problems import CommissionError, InputRefused
from commission.report.review import review_in_full
from commission.report.signoff import SignOff
from commission.resources import checklists, samples
from commission.session import SEVERITIES, Session, now_local
from commission.site.changes.kinds import Rename
from commission.site.load import parse_site
from commission.tui.app import CommissionApp
from commission.tui.base import BaseApp
from commission.tui.edit_app import EditApp
from commission.tui.review_app import ReviewApp
from commission.tui.start_app import StartApp
from commission.user.crash_log import log_failure
from commission.user.folder import config_folder
from commission.user.instruments import Instrument, remember_instrument
from commission.user.people import Person, remember_person
from commission.user.recent import remember_job
from commission.user.signers import KnownSigners
from tests import walks
from tests.campaign.mutations import FAULT, ran
from tests.campaign.names import through_names
from tests.campaign.rows import Row, place, timed
from tests.printing.html_read import read_html
from tests.report import small
from tests.tui.golden import screen_text
from tests.tui.walking import Walk

VISIBLE = (
    "[@click=app.leave]x[/]", "a[/]b", "[red]not red[/red]", "$fail [bold]",
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>', "&lt;b&gt; &amp;", '=HYPERLINK("http://x.invalid")', "+1+1",
    "-2+3", "@SUM(1)", "＝1＋1", "$(touch pwned)", "`touch pwned`", "; touch pwned #",
    "%s %n {0} {x}", ".include pwned", "* .end", "'; --", "\\u001b[2J", "\\", "]]>", "''' \"\"\"",
    "#", "../../pwned",
    "e\u0301\u00e9 \u05d0\u05d1 \u6f22\u5b57 \U0001f680",
)  # fmt: skip
CONTROLS = ("\x1b[2J", "\x9b2J", "\u202eabc", "\u2028", "\u200b", "\r", "\x00", "\x7f", "\ue000")
# Commands that print a site or a job, and those that print a report.
OF_SITE = (
    ("check",), ("expect",), ("expect", "--json"), ("expect", "--netlist"), ("size",),
    ("size", "--json"), ("jobs",),
)  # fmt: skip
OF_JOB = (("check",), ("expect",), ("locate",), ("locate", "--json"), ("report",))
OF_REPORT = (
    ("check",),
    ("review",),
    ("review", "--json"),
    ("review", "--csv"),
    ("signers", "--know"),
)
MENU = (
    "What is done, failed, open", "The paths as a picture", "Find the fault", "Take back an entry",
    "Keys and help", "People and instrument", "New instrument", "Close a defect", "Sign and save",
    "The profile", "The ground differs", "Undo the last answer", "Attach a photo",
)  # fmt: skip
HARMLESS = "small-garden"
Table = dict[str, Any]


def leaves(table: Any, at: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The place of every text in a table."""
    if isinstance(table, str):
        yield at
    elif isinstance(table, dict):
        for key, value in table.items():
            yield from leaves(value, (*at, key))
    elif isinstance(table, list):
        for number, value in enumerate(table):
            yield from leaves(value, (*at, number))


def put(table: Table, at: tuple[str | int, ...], text: str) -> Table:
    """A copy of a table with another text in one place."""
    changed = copy.deepcopy(table)
    inner: Any = changed
    for key in at[:-1]:
        inner = inner[key]
    inner[at[-1]] = text
    return changed


def one_of_each(places: list[tuple[str | int, ...]]) -> list[tuple[str | int, ...]]:
    """One place for each kind of field: the same key of another row is the same field."""
    found: dict[tuple[str, ...], tuple[str | int, ...]] = {}
    for at in places:
        found.setdefault(tuple("" if isinstance(key, int) else key for key in at), at)
    return list(found.values())


def run(count: int, seed: int) -> list[Row]:
    """So many hostile texts, from all of them, through everything."""
    rng = random.Random(seed)
    texts = list(VISIBLE) if count >= len(VISIBLE) else rng.sample(VISIBLE, count)
    fields = Row("hostile text", "one text in one field of a site file or checklist", seed)
    whole = Row(
        "hostile text", "in all fields at once: sheets, tables, JSON, CSV, reports, logs", seed
    )
    screens = Row("hostile text", "the same, lines of every screen", seed)
    with timed(fields):
        names = FILES if len(texts) > 1 else ("site.toml", "checklist.toml")
        taken = {name: _fields(name, texts, rng, fields) for name in names}
    for text in texts:
        with timed(whole), place() as folder:
            _through_everything(folder, text, taken, whole, screens)
    named = [control for control in CONTROLS if control != "\x00"]  # which no name can hold
    for control in named if len(texts) > 1 else rng.sample(named, 1):
        with timed(whole):
            through_names(control, whole, screens)
    for control in CONTROLS:
        _log(control, whole)
    return [fields, whole, screens]


Reader = Callable[[bytes, str], object]
# What a person writes: the file to begin with, and what reads it.
FILES: dict[str, tuple[Path, Reader]] = {
    "site.toml": (samples()["small-garden"], parse_site),
    "bundle.toml": (samples()["converted-bundle"], parse_site),
    "checklist.toml": (checklists()["new-installation"], parse_checklist),
}


def _fields(
    name: str, texts: list[str], rng: random.Random, row: Row
) -> list[tuple[str | int, ...]]:
    """Try each text in each field; returns the fields that take any visible text."""
    path, parse = FILES[name]
    table = tomllib.loads(path.read_text("utf-8"))
    free = []
    for at in one_of_each(list(leaves(table))):
        # As it stands, and with the number behind it by which it is found again.
        taken = [
            _taken(table, at, f"{text}{number}", parse, name, row)
            for text in texts
            for number in ("", " k999k")
        ]
        if all(taken):
            free.append(at)
        for control in rng.sample(CONTROLS, 3):
            if _taken(table, at, f"a{control}b", parse, name, row):
                row.escape(f"{name}: {at} takes {control!r}")
    return free


def _taken(
    table: Table,
    at: tuple[str | int, ...],
    text: str,
    parse: Reader,
    name: str,
    row: Row,
) -> bool:
    row.times += 1
    try:
        parse(tomli_w.dumps(put(table, at, text)).encode("utf-8"), name)
    except InputRefused as refused:
        if not str(refused).replace("\n", "").isprintable():
            row.escape(f"{name}: {at}: refused with a control character")
        return False
    except Exception as error:
        row.escape(f"{name}: {at} = {text!r}: {type(error).__name__}: {error}")
        return False
    return True


def _filled(name: str, text: str, taken: dict[str, list[tuple[str | int, ...]]]) -> bytes:
    """A file with a text in every field that takes it, numbered, so that each can be found."""
    table = tomllib.loads(FILES[name][0].read_text("utf-8"))
    for number, at in enumerate(taken[name]):
        table = put(table, at, f"{text} k{number}k")
    return tomli_w.dumps(table).encode("utf-8")


def _through_everything(
    folder: Path,
    text: str,
    taken: dict[str, list[tuple[str | int, ...]]],
    row: Row,
    screens: Row,
) -> None:
    work = folder / "work"
    work.mkdir()
    site, listed = work / "site.toml", folder / "checklist.toml"
    site.write_bytes(_filled("site.toml", text, taken))
    listed.write_bytes(_filled("checklist.toml", text, taken))
    seen = [_ran([command[0], str(site), *command[1:]], row) for command in OF_SITE]
    seen.append(_sheet(site, folder / "sheet.html", row))
    remember_person(Person(f"{text} p1", text, text, text))
    remember_instrument(Instrument("hostile-meter", text, text, accuracy=walks.METER.accuracy))
    session = open_job(site, checklist=listed, disk=Disk(), now=now_local)
    _walked(session, text)
    job = session.job.folder
    seen.append(asyncio.run(_drawn(session, screens)))
    _listed(job, folder / "list.csv", text, row)
    _kept(job, text, row)
    seen += [_ran([command[0], str(job), *command[1:]], row) for command in OF_JOB]
    seen.append(_sheet(job, folder / "job.html", row))
    session = open_job(job, disk=Disk(), now=now_local)
    while (undecided := next(session.job.undecided(), None)) is not None:
        session.accept_exception(undecided.step, text)
    by = SignOff("installer", text, text, text, text, walks.signoff().at)
    session.sign(by, walks.KEY)
    session.close()
    report = job / "report.toml"
    seen += [_ran([*command, str(report)], row) for command in OF_REPORT]
    seen.append(_sheet(report, folder / "report.html", row))
    _ran(["new", str(folder / "again.toml"), "--from", str(report), "--yes"], row)
    seen += asyncio.run(_others(report, job, site, screens))
    _own_files(folder, text, row)
    seen.append(_ran(["compare", str(report), str(report)], row))
    seen.append(_ran(["signers"], row))
    seen.append(report.read_text("utf-8"))
    _shown(text, taken, seen, row)
    if list(folder.rglob("pwned")) or Path("pwned").exists():
        row.escape(f"{text!r} was executed")


def _walked(session: Session, text: str) -> None:
    """A text in everything that a person can type."""
    session.crew.take(Hands(f"{text} o", f"{text} w", session.crew.instruments()[0]))
    steps = list(session.job.statuses.values())
    for status in steps[:40]:
        step = status.step
        try:
            good = walks.good_answer(session, step)
            words = text if step.item.answer == "text" else good
            session.answer(step, words, photo=text, note=text, confirmed=True)
        except CommissionError:
            continue
    step = steps[0].step
    session.note(step, text)
    session.raise_defect(step, SEVERITIES[0], text, text, text)
    session.raise_defect(step, SEVERITIES[1], text, text, text)
    session.close_defect("D2", text)
    session.change_drawing(step, text, text, text, text)
    path = session.job.site.path[0]
    session.change_site(step, Rename("path", path.id, text), text)
    session.change_site(step, Rename("box", path.segment[0].to_box, text), text)
    photo = session.job.folder.parent / f"{text.replace('/', '_')}.jpg"
    photo.write_bytes(b"pixels")
    session.attach(step, photo)
    session.skip(steps[1].step, text)
    session.not_applicable(steps[2].step, text)
    session.withdraw(len(session.job.state.entries), text)


def _listed(job: Path, path: Path, text: str, row: Row) -> None:
    """A text as observer and note of a list from the field."""
    session = open_job(job, disk=Disk(), now=now_local)
    step = walks.first_open(session)
    session.close()
    assert step is not None
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["step", "reading", "instrument", "observer", "time", "note"])
        good = walks.good_answer(session, step)
        writer.writerow(
            [step.id, good, "", f"{text} list", f"{now_local():%Y-%m-%d %H:%M}", f"{text} note"]
        )
    if "1 kept" not in _ran(["enter", str(job), str(path), f"--by={text}"], row):
        row.lose(f"{text!r} in a list from the field")


def _kept(job: Path, text: str, row: Row) -> None:
    """What was typed stands in the record as it was typed."""
    entries = tomllib.loads((job / "record.toml").read_text("utf-8"))["entry"]
    for key in ("text", "where", "action", "subject", "before", "after", "photo"):
        row.times += 1
        if not any(entry.get(key) == text for entry in entries):
            row.lose(f"{text!r} as {key} of an entry")
    if not any(entry.get("text") == f"{text} note" for entry in entries):
        row.lose(f"{text!r} as the note of a list")


def _ran(words: list[str], row: Row) -> str:
    """What a command printed; it must be printable, and what it says it is."""
    row.times += 1
    code, printed, _ = ran(words)
    if code not in (0, 1, 2) or FAULT in printed or not printed.replace("\n", "").isprintable():
        row.escape(f"{words[0]}: exit code {code}: {printed[-200:]!r}")
    if "--json" in words:
        printed = json.dumps(json.loads(printed), ensure_ascii=False) + printed
        printed = printed.replace('\\"', '"').replace("\\\\", "\\")
    if "--csv" in words:
        for cell in (cell for line in csv.reader(io.StringIO(printed)) for cell in line):
            if re.match(r"\s*[=+@＝＋＠-]", cell):
                row.escape(f"a spreadsheet computes {cell!r}")
    if "--netlist" in words and _orders(printed) != _orders(
        ran(["expect", HARMLESS, "--netlist"])[1]
    ):
        row.escape("the netlist has other orders than that of the harmless site")
    return printed


def _orders(netlist: str) -> list[str]:
    """The first word of every line of a netlist that is no comment, and is not the title."""
    lines = [line.split() for line in netlist.splitlines()[1:] if not line.startswith("*")]
    return [words[0] for words in lines if words]


def _sheet(target: Path, page: Path, row: Row) -> str:
    """The text of a printed page; it holds no script and nothing that acts."""
    _ran(["print", str(target), "--output", str(page)], row)
    root = read_html(page.read_text("utf-8"))
    for element in root.all():
        acts = [name for name in element.attributes if name.startswith("on")]
        loads = [name for name in element.attributes if name in ("src", "href", "action", "srcset")]
        if element.name in ("script", "img", "iframe", "link", "object") or acts or loads:
            row.escape(f"the page holds <{element.name} {element.attributes}>")
    return root.text


async def _drawn(session: Session, row: Row) -> str:
    """Every screen, at its first steps and from every line of the menu; the job is closed."""
    seen = []
    app = CommissionApp(session)
    try:
        async with app.run_test(size=(120, 40)) as pilot:
            walk = Walk(app, pilot)
            await pilot.pause()
            for step in list(session.job.statuses)[:6]:
                walk.walk.show_step(step)
                seen.append(await _look(walk, row))
            walk.walk.show_step(next(iter(session.job.statuses)))
            for words in MENU:
                await walk.press("escape")
                seen.append(await _look(walk, row))
                await walk.choose(words)
                seen.append(await _look(walk, row))
                await walk.home()
            if not app.is_running or app.screen is not walk.walk:
                row.escape("a text acted on the screen")
    finally:
        session.close()
    if app.failure is not None:
        row.escape(f"a screen failed: {app.failure!r}")
    return "\n".join(seen)


async def _others(report: Path, job: Path, site: Path, row: Row) -> list[str]:
    """The start with the job in it, the review of its report, its site file edited."""
    remember_job(job, now_local())
    edition = Edition(site, Disk(), now_local)
    edition.close()
    found = review_in_full(report.read_bytes(), report.name, KnownSigners())
    seen = []
    apps: tuple[BaseApp[Any], ...] = (StartApp(), ReviewApp(found), EditApp(edition))
    for app in apps:
        async with app.run_test(size=(120, 40)) as pilot:
            walk = Walk(app, pilot)
            await pilot.pause()
            for key in "123456":
                await walk.press(key)
                seen.append(await _look(walk, row))
        if app.failure is not None:
            row.escape(f"a screen failed: {app.failure!r}")
    return seen


def _own_files(folder: Path, text: str, row: Row) -> None:
    """The user's own kinds, a list of stations: taken and shown, or refused; and a known signer."""
    kinds = {"solenoid_kind": {"valve": {"inrush_current": "0.3 A", "holding_current": "0.2 A",
             "description": text}}, "cable_kind": {text: {"conductor": text}}}  # fmt: skip
    config_folder().mkdir(exist_ok=True)
    for number, table in enumerate((kinds, {"solenoid_kind": kinds["solenoid_kind"]})):
        (config_folder() / "kinds.toml").write_text(tomli_w.dumps(table), "utf-8")
        path = folder / f"stations-{number}.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["station", "box", "distance (ft)", "cable", "area", text])
            writer.writerow(["1", "B1", "120", "14 AWG", text, text])
            writer.writerow(["2", text if number else "B2", "240", "14 AWG", text, text])
        target = str(folder / f"listed-{number}.toml")
        _ran(["new", target, "--from", str(path), "--yes", f"--name={text}"], row)
    (config_folder() / "kinds.toml").unlink()
    _ran(["new", str(folder / "listed.toml"), "--from", str(path), "--yes"], row)


async def _look(walk: Walk, row: Row) -> str:
    await walk.pilot.pause()
    text = screen_text(walk.app)
    for line in text.split("\n"):
        row.times += 1
        if not line.isprintable():
            row.escape(f"on a screen: {line!r}")
    return text


def _shown(
    text: str, taken: dict[str, list[tuple[str | int, ...]]], seen: list[str], row: Row
) -> None:
    """Each field that took the text is shown whole somewhere, its lines put together."""
    together = "".join("".join(one.split()) for one in seen)
    together += together.replace("\\\\", "\\").replace('\\"', '"')
    for name in ("site.toml", "checklist.toml"):
        for number, at in enumerate(taken[name]):
            row.times += 1
            if "".join(f"{text} k{number}k".split()) not in together:
                row.lose(f"{text!r} in {name}, {at}: it is shown nowhere")


def _log(control: str, row: Row) -> None:
    """A failure with a control character in its words, in the crash log."""
    with place():
        row.times += 1
        path = log_failure(ValueError(f"{control} {small.__name__}"))
        if path is None or not path.read_text("utf-8").replace("\n", "").isprintable():
            row.escape(f"{control!r} stands in the crash log")
