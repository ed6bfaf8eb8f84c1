"""Hostile and spoilt reports through the command itself: words each time, soon, and safe."""

from __future__ import annotations

import re
import time
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import astuple
from pathlib import Path
from typing import Any

import pytest

from commission.record.entry import Entry, EntryType
from commission.report import examined as module
from commission.report.effort import MAX_SIGNOFFS
from commission.report.examined import examined
from commission.report.history import entries_of
from commission.report.review import InFull, Review, review, review_in_full
from commission.site.changes.kinds import Length, line
from commission.user.seen_reports import seen_file
from commission.user.signers import KnownSigners
from tests.report import small
from tests.report.mutated import FORMS, MAX_SECONDS, mutated, originals, reviewed
from tests.report.sealing import FORGER, countersigned, resealed, with_files, with_record

NAME = "report.toml"

COUNT, STATE = 2_100, 20_310_504  # how many, and the random state that they come from


def test_thousands_of_spoilt_reports_are_told_in_words_and_soon(tmp_path: Path) -> None:
    """Processor time, so that a busy machine fails nothing; the slowest takes some 0.1 s."""
    path = tmp_path / "in" / "report.toml"
    path.parent.mkdir()
    before = {name.name for name in tmp_path.iterdir()}
    count, sound = 0, 0
    for number, (what, content) in enumerate(mutated(COUNT, STATE)):
        form = FORMS[number % len(FORMS)]
        code, printed, seconds = reviewed(path, content, form)
        assert code == 1, (what, printed)
        assert printed.replace("\n", "").isprintable(), what
        assert seconds < MAX_SECONDS, what
        count += 1
        sound += "\n  sound;" in printed
    assert count == COUNT
    assert sound < COUNT / 50  # what was swapped was the same, or signed anew as it was
    assert {name.name for name in tmp_path.iterdir()} == before
    assert [name.name for name in path.parent.iterdir()] == ["report.toml"]
    assert not seen_file().exists() or seen_file().read_text("utf-8").isascii()


def test_what_the_full_screen_shows_of_spoilt_reports_is_words_too() -> None:
    """Every text beside a review: exceptions as signed, steps as computed."""
    shown = 0
    for what, content in mutated(200, STATE + 1):
        begun = time.process_time()
        found = review_in_full(content, "report.toml", KnownSigners())
        assert time.process_time() - begun < MAX_SECONDS, what
        texts = [str(text) for step in found.steps for text in astuple(step)]
        assert all(text.isprintable() for text in (*found.exceptions, *texts)), what
        shown += bool(found.steps)
    assert shown > 10


def test_every_mutation_differs_from_its_original() -> None:
    """That the spoiling spoils: almost all of what is reviewed above is something else."""
    found = [content for _what, content in mutated(300, 3)]
    assert sum(content in originals() for content in found) < 10
    assert len(set(found)) > 280


def site_of(stations: int, at_once: int) -> str:
    """A long path with a station in every box, all boxes differently far apart."""
    files = tomllib.loads(small.sound().decode("utf-8"))["files"]
    head = str(files["site"]).partition("[[path]]")[0]
    head = head.replace("stations_at_once = 2", f"stations_at_once = {at_once}")
    segments, found = [], []
    for n in range(1, stations + 1):
        start = f"B{n - 1}" if n > 1 else "output"
        length = 5 + n * 37 % 53
        segments.append(f'{{ from = "{start}", to = "B{n}", length = "{length} ft" }}')
        found.append(
            f'[[station]]\nid = "S{n}"\nnumber = {n}\naddress = {n}\npath = "A"\nbox = "B{n}"\n'
            f'decoder = "single"\nsolenoid = [{{ id = "V{n}", kind = "small" }}]\n'
        )
    path = '[[path]]\nid = "A"\noutput = "1"\ncable = "pair-14"\nlength_by = "wheel"\n'
    return head + path + "segment = [\n" + ",\n".join(segments) + "\n]\n\n" + "".join(found)


@pytest.mark.parametrize(
    ("stations", "at_once", "words"),
    [
        (40, 2, ""),
        (100, 12, "too many sets of stations may run at once"),
        (1500, 2, "more than 250 stations"),
    ],
)
def test_a_site_that_would_take_hours_is_refused(stations: int, at_once: int, words: str) -> None:
    """Searching the worst set of 12 among 100 exactly takes longer than anybody waits."""
    files = tomllib.loads(small.sound().decode("utf-8"))["files"]
    found = review(
        with_files(small.sound(), site_of(stations, at_once), files["checklist"]),
        "report.toml",
        KnownSigners(),
    )
    assert found.state == ("not readable" if words else "altered")
    if words:
        assert words in found.problems[-1].message
        assert "commission check" in found.problems[-1].remedy


def test_a_checklist_that_unrolls_to_very_many_steps_is_refused() -> None:
    """It is short; with a box for each of 240 stations it makes half a million steps."""
    files = tomllib.loads(small.sound().decode("utf-8"))["files"]
    item = 'title = "T"\nask = "Look."\nanswer = "confirm"\neach = "box"\n'
    many = "".join(f'\n[[stage.item]]\nid = "x{n}"\n{item}' for n in range(2_000))
    content = with_files(small.sound(), site_of(240, 2), files["checklist"] + many)
    begun = time.process_time()
    found = review(content, NAME, KnownSigners())
    assert time.process_time() - begun < MAX_SECONDS
    assert found.state == "not readable"
    assert "too many steps" in found.problems[-1].message


BOMBS = {
    "dotted keys": "".join(f"a{n}{'.b' * 150} = 1\n" for n in range(2_000)),
    "one dotted key": "a." * 20_000 + "a = 1\n",
    "brackets": "a = " + "[" * 3_000,
    "many lists": "a = [\n" + ("[" * 50 + "]" * 50 + ",\n") * 9_000 + "]\n",
    "many keys": "".join(f"k{n} = 1\n" for n in range(450_000)),
    "a long line": "a = '" + "x" * 50_000 + "'\n",
    "many lines": "#\n" * 450_000,
    "large": "# x\n" * 2_100_000,
    "a huge number": "a = 0x" + "f" * 39_000 + "\n",
}


@pytest.mark.parametrize("line", [b"k%d = 1\n", b'k%d = "' + b"\\u0041" * 60 + b'"\n', b"#\n"])
@pytest.mark.parametrize("where", [b"\n[job]\n", b"\n[files]\n"])
def test_a_signed_report_with_much_more_in_it_is_parsed_once(
    line: bytes, where: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of these has almost as many keys, bytes or lines as a report may have, or more."""
    content, count = small.sound(), {b"#": 7_000_000, b"k": 380_000}[line[:1]]
    many = min(count, 7_300_000 // len(line))
    more = b"".join(line % n if b"%" in line else line for n in range(many))
    at = content.index(where) + 1
    spoilt = resealed(content[:at] + b"[more]\n" + more + content[at:])
    loads, parsed = tomllib.loads, list[int]()

    def counting(text: str) -> dict[str, Any]:
        parsed.append(len(text))
        return loads(text)

    monkeypatch.setattr(tomllib, "loads", counting)
    begun = time.process_time()
    found = review(spoilt, NAME, KnownSigners())
    assert time.process_time() - begun < MAX_SECONDS
    assert sum(size > len(more) for size in parsed) <= 1
    assert found.state in ("altered", "not readable")


def test_many_sign_offs_are_not_verified_one_by_one() -> None:
    """Each covers everything above it: together they cost the square of their number."""
    content = small.sound()
    for _ in range(MAX_SIGNOFFS):
        content = countersigned(content, FORGER, "owner")
    assert "more than 20 sign-offs" in review(content, NAME, KnownSigners()).problems[0].message
    assert examined(content, NAME).state == "sound"


def test_what_is_too_much_to_make_again_has_its_signatures_checked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Of an inspection each entry counts twice: it is compared with the report's too."""
    content = small.sound()
    entries = tomllib.loads(content.decode("utf-8"))["record"]["entries"]
    twice = countersigned(content)
    monkeypatch.setattr("commission.report.effort.MAX_ENTRIES", 3 * entries)
    assert review(twice, NAME, KnownSigners()).state == "sound"
    monkeypatch.setattr("commission.report.effort.MAX_ENTRIES", 3 * entries - 1)
    found = review(twice, NAME, KnownSigners())
    assert (found.state, len(found.problems)) == ("not readable", 1)
    assert "commission check" in found.problems[0].remedy
    broken = review(twice.replace(b"Sample", b"Simple"), NAME, KnownSigners())
    assert "its signature does not hold" in broken.of("signature")[0].message
    monkeypatch.setattr("commission.report.effort.MAX_INSPECTIONS", 0)
    assert "more than 0 inspections" in review(twice, NAME, KnownSigners()).problems[0].message


def reading() -> Entry:
    """A reading of the sound report."""
    found = entries_of(tomllib.loads(small.sound().decode("utf-8")))
    return next(entry for entry in found if entry.quantity)


def act(kind: EntryType, **fields: Any) -> Entry:
    """An entry at the same step and time."""
    first = reading()
    return Entry(
        0, kind, first.step, entered_by="a", entered_at=first.entered_at, text="x", **fields
    )


def length(n: int) -> Entry:
    """A change of the drawing, another each time."""
    redraws = line(Length("A", "B1", f"{100 + n} ft"))
    return act("change", subject="s", before="a", after="b", redraws=redraws)


def taken_back(entries: Iterable[Entry]) -> Iterator[Entry]:
    """Each of these, and that it counts no more."""
    for n, entry in enumerate(entries):
        yield entry
        yield act("withdrawal", refers_to=2 * n + 1)


def bundled(site: str, conductors: int) -> str:
    """A site whose path is an old bundle too."""
    head, _, rest = site.partition("[[station]]")
    found = "".join(f'[[path.conductor]]\nid = "c{n}"\n' for n in range(conductors))
    return f"{head}{found}\n[[station]]{rest}"


def of_many_cables(site: str) -> str:
    """A site of which each segment is of a kind of its own."""
    count = site.count(' ft" }')
    kinds = "".join(f'[cable_kind.k{n}]\nconductor = "14 AWG"\n' for n in range(count))
    numbers = iter(range(count))
    site = re.sub(r' ft" }', lambda _found: f' ft", cable = "k{next(numbers)}" }}', site)
    return site.replace("[[path]]", f"{kinds}\n[[path]]", 1)


def path_steps(checklist: str, count: int) -> str:
    """A checklist with many more texts to be written of each path."""
    item = 'title = "T"\nask = "Say."\nanswer = "text"\neach = "path"\n'
    return checklist + "".join(f'\n[[stage.item]]\nid = "x{n}"\n{item}' for n in range(count))


FILES = tomllib.loads(small.sound().decode("utf-8"))["files"]
CASES: dict[str, tuple[list[Entry], str, str, str]] = {
    "readings taken back": (
        list(taken_back([reading()] * 1_200)), FILES["site"], FILES["checklist"], "",
    ),
    "changes taken back": (
        list(taken_back(map(length, range(400)))), FILES["site"], FILES["checklist"],
        "more than 50 changes of this drawing",
    ),
    "changes of a large site": (
        list(map(length, range(40))), site_of(200, 2), FILES["checklist"],
        "more than 20 changes of this drawing",
    ),
    "defects told with all at their step": (
        [act("defect", defect=f"D{n}", state="opened") for n in range(700)]
        + [act("note")] * 700,
        FILES["site"], FILES["checklist"], "too much to tell of each defect and cable",
    ),
    "each cable told with all of its path": (
        [reading()], of_many_cables(site_of(200, 2)), path_steps(FILES["checklist"], 300),
        "too much to tell of each defect and cable",
    ),
    "an old bundle of very many conductors": (
        [reading()], bundled(site_of(200, 2), 150), FILES["checklist"],
        "more than 10000 sections of old conductors",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_record_that_takes_long_to_follow_is_refused_or_soon_followed(case: str) -> None:
    """Each holds together, and made a reviewer wait for 3 to 60 s; a body need not follow."""
    entries, site, checklist, words = CASES[case]
    content = with_record(with_files(small.sound(), site, checklist), entries)
    begun = time.process_time()
    found = review(content, NAME, KnownSigners())
    assert time.process_time() - begun < MAX_SECONDS
    assert found.state == ("not readable" if words else "altered")
    assert words in found.problems[0].message
    assert found.of("record") == found.of("files") == found.of("signature") == ()


def test_an_altered_report_is_made_again_once_and_judged_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is looked at in two ways: that must not keep anybody waiting twice as long."""
    called = Counter[str]()
    for name in ("job_of", "entry_findings", "pieces_again"):
        original = getattr(module, name)

        def counted(*args: Any, of: str = name, by: Any = original, **more: Any) -> Any:
            called[of] += 1
            return by(*args, **more)

        monkeypatch.setattr(module, name, counted)
    altered = resealed(small.sound().replace(b'verdict = "pass"', b'verdict = "fail"', 1))
    assert review(altered, NAME, KnownSigners()).state == "altered"
    assert called == {"job_of": 1, "entry_findings": 1, "pieces_again": 1}


@pytest.mark.parametrize("name", BOMBS)
def test_what_would_take_long_to_parse_is_refused(tmp_path: Path, name: str) -> None:
    head = 'kind = "commission report"\n'
    path = tmp_path / "report.toml"
    for content in (head + BOMBS[name], BOMBS[name]):
        code, printed, seconds = reviewed(path, content.encode("utf-8"), [])
        assert code == 1
        assert seconds < MAX_SECONDS
        assert printed.isascii()


@pytest.mark.parametrize("key", ["report", "format", "verdict"])
@pytest.mark.parametrize("value", ["0x" + "f" * 9_000, "[" * 200 + "]" * 200, '"\\u001b[2J"'])
def test_no_value_at_the_top_can_be_too_long_to_say(tmp_path: Path, key: str, value: str) -> None:
    line = re.compile(rf"(?m)^{key} = .*$")
    content = line.sub(lambda _found: f"{key} = {value}", small.sound().decode("utf-8"), count=1)
    code, printed, _seconds = reviewed(tmp_path / "report.toml", content.encode("utf-8"), [])
    assert code == 1
    assert printed.replace("\n", "").isprintable()


def test_a_review_of_anything_is_a_review() -> None:
    for content in (
        b"",
        b"\x00",
        b"[[signoff]]\n",
        b"signoff = 1",
        b'kind = "commission report"\n',
    ):
        found = review(content, "\x1b[2J", KnownSigners())
        assert isinstance(found, Review)
        assert found.state == "not readable"
        assert found.name.isprintable()
        assert review_in_full(content, "\x1b[2J", KnownSigners()) == InFull(found)
