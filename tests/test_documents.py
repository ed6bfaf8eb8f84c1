"""The documents tell what the program does: compared with the command line, files and folder."""

from __future__ import annotations

import argparse
import dataclasses
import hashlib
import json
import re
import subprocess
import tomllib
import typing
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import pytest

from commission import cli, problems
from commission.checklist.checks import COMPARED
from commission.checklist.load import parse_checklist
from commission.checklist.plan import build_plan
from commission.checklist.schema import JOB_KIND_WORDS, Checklist, Fact, Scope
from commission.checklist.words import PLACEHOLDERS
from commission.commands.expect_json import document
from commission.expected.sheet import Sheet
from commission.record.entry import Entry, EntryType, Header
from commission.report.document import HEADINGS, report_document
from commission.resources import samples
from commission.shapes import adapter, key_of
from commission.site.load import parse_site
from commission.site.schema import Site
from commission.tui.keys import WALK
from tests.pictures import PICTURES, draw
from tests.walks import KEY, begin, signoff, walk_to_the_end

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
Rows = list[list[str]]


# Reading the documents


def section(heading: str, text: str = README) -> str:
    """What stands under a heading, up to the next one of its level or above."""
    level = len(heading) - len(heading.lstrip("#"))
    lines = iter(text.split("\n"))
    assert heading in lines, f"no heading {heading!r}"
    kept: list[str] = []
    for line in lines:
        if re.match(rf"#{{1,{level}}} ", line):
            break
        kept.append(line)
    return "\n".join(kept)


def rows(text: str, first: str) -> Rows:
    """The rows of the table whose first heading is `first`, as cells."""
    lines = iter(text.split("\n"))
    for line in lines:
        if cells(line)[:1] == [first]:
            break
    else:
        raise AssertionError(f"no table {first!r}")
    next(lines)
    found = []
    for line in lines:
        if not line.startswith("|"):
            break
        found.append(cells(line))
    return found


def cells(line: str) -> list[str]:
    """The cells of a table's line, their bars unescaped."""
    parts = re.split(r"(?<!\\)\|", line)[1:-1]
    return [part.strip().replace("\\|", "|") for part in parts]


def codes(text: str) -> list[str]:
    """Everything that is set as code."""
    return re.findall(r"`([^`]+)`", text)


def marked(mark: str, text: str = README) -> list[str]:
    """The blocks that follow a mark: `<!-- mark -->` and then a fenced block."""
    found = re.findall(rf"<!-- {re.escape(mark)} -->\n```\w*\n(.*?)\n```", text, re.DOTALL)
    assert found, f"no block marked {mark!r}"
    return found


# The tree


def told_tree() -> Iterator[str]:
    """Paths of the tree in DEVELOPERS.md, folders with a stroke at their end."""
    (block,) = marked("tree", DEVELOPERS)
    folders: list[str] = []
    for line in block.split("\n"):
        name, words = line.strip().split(None, 1) if " " in line.strip() else (line, "")
        depth = (len(line) - len(line.lstrip())) // 2
        del folders[depth:]
        assert words or name == "commission/", f"no words for {name}"
        yield "".join(folders) + name
        if name.endswith("/"):
            folders.append(name)


def test_the_tree_is_the_folder() -> None:
    told = list(told_tree())
    assert len(told) == len(set(told))
    inside = {path for path in told if path.startswith("commission/")}
    there = {"commission/"}
    for path in (ROOT / "commission").rglob("*"):
        name = path.relative_to(ROOT).as_posix()
        if path.suffix in (".py", ".tcss", ".json", ".html", ".js") and path.name != "__init__.py":
            there.add(name)
        elif path.is_dir() and (path / "__init__.py").exists():
            there.add(f"{name}/")
    assert inside == there
    assert all((ROOT / path).exists() for path in told)


def test_every_dependency_has_its_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    needed = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    told = re.findall(r"[A-Za-z][\w-]+", " ".join(row[0] for row in rows(DEVELOPERS, "package")))
    names = {re.split(r"[<>=]", one)[0] for one in needed}
    assert names | {"ngspice", "chromium", "poppler"} == set(told) - {
        "pinned",
        "exactly",
        "program",
    }


# Links and pictures


def test_what_is_linked_is_there() -> None:
    targets = re.findall(r"\]\(([^)]+)\)", README)
    assert targets
    for target in targets:
        assert (ROOT / target).is_file(), target


def test_every_picture_is_shown_and_asks_for_nothing_from_outside() -> None:
    shown = {path.name for path in (ROOT / "tests" / "pictures").iterdir()}
    assert shown == {f"{name}.svg" for name in PICTURES}
    for name in sorted(shown):
        assert f"(tests/pictures/{name})" in README
        text = (ROOT / "tests" / "pictures" / name).read_text("utf-8")
        assert ET.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
        addresses = re.findall(r"\w+://[^\"'\s)<]+", text)
        assert set(addresses) == {"http://www.w3.org/2000/svg"}
        assert not re.search(r"@font-face|@import|<image|<script", text)


@pytest.mark.parametrize("name", PICTURES)
def test_pictures_show_the_screens_of_today(
    name: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    drawn = draw(name, tmp_path)
    file = ROOT / "tests" / "pictures" / f"{name}.svg"
    if request.config.getoption("--renew"):
        file.write_text(drawn, encoding="utf-8", newline="\n")
    assert words_of(drawn) == words_of(file.read_text("utf-8"))


def words_of(svg: str) -> list[str]:
    """The words in a picture, line by line."""
    return [text for text in ET.fromstring(svg).itertext() if text.strip() and "{" not in text]


# The command line


def told_commands() -> dict[str, set[str]]:
    """Command with its arguments as the README tells it, to its options."""
    found: dict[str, set[str]] = {}
    command = ""
    for usage, option, words in rows(section("## Commands"), "command"):
        assert words
        command = codes(usage)[0].removeprefix("commission").strip() if usage else command
        found.setdefault(command, set()).update(codes(option))
    return found


def written(action: argparse.Action) -> str:
    """An argument as a person reads it: "--job KIND" or "SITE|JOB"."""
    metavar = str(action.metavar or "")
    name = action.option_strings[-1] if action.option_strings else ""
    takes = "" if action.nargs == 0 else metavar
    return f"{name} {takes}".strip()


def test_every_command_and_option_is_told_and_no_other() -> None:
    top = cli.parser()
    (commands,) = (a for a in top._actions if isinstance(a, argparse._SubParsersAction))
    there = {"": {written(a) for a in top._actions if a is not commands}}
    for name, command in commands.choices.items():
        arguments = [a for a in command._actions if a.dest != "help"]
        usage = " ".join([name, *(written(a) for a in arguments if not a.option_strings)])
        there[usage] = {written(a) for a in arguments if a.option_strings}
    assert told_commands() == there


def test_kinds_of_job_are_told() -> None:
    words, *_ = (row[2] for row in rows(section("## Commands"), "command") if "--job" in row[1])
    assert codes(words) == list(JOB_KIND_WORDS)


def test_exit_codes_are_told() -> None:
    told = {int(row[0]) for row in rows(section("## Commands"), "exit code")}
    assert told == {value for name, value in vars(problems).items() if name.startswith("EXIT_")}


def test_keys_are_those_of_the_walk() -> None:
    assert rows(section("## Keys"), "key") == [[key.shown, key.help] for key in WALK]


# The files that people write

PARTS = {"## The site file": Site, "## Checklists": Checklist}


def table_within(hint: Any) -> tuple[str, Any]:
    """How the table of a field is headed, and its shape; ("", None) for a plain value."""
    if get_origin(hint) is Annotated:
        return table_within(get_args(hint)[0])
    if dataclasses.is_dataclass(hint):
        return "[{}]", hint
    arguments = get_args(hint)
    if get_origin(hint) is tuple and dataclasses.is_dataclass(arguments[0]):
        return "[[{}]]", arguments[0]
    if get_origin(hint) is dict and dataclasses.is_dataclass(arguments[1]):
        return "[{}.NAME]", arguments[1]
    return "", None


def headed(shape: Any, heading: str = "", prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Heading and shape of every table of a file."""
    yield heading or "Top of the file", shape
    for name, hint in typing.get_type_hints(shape, include_extras=True).items():
        style, inner = table_within(hint)
        if inner is not None:
            place = f"{prefix}{key_of(name)}"
            yield from headed(inner, f"`{style.format(place)}`", f"{place}.")


HEADED = [
    pytest.param(part, heading, shape, id=f"{shape.__name__}")
    for part, whole in PARTS.items()
    for heading, shape in headed(whole)
]


@pytest.mark.parametrize(("part", "heading", "shape"), HEADED)
def test_keys_defaults_and_examples_of_every_table(part: str, heading: str, shape: Any) -> None:
    hints = typing.get_type_hints(shape, include_extras=True)
    known = {
        key_of(field.name): field
        for field in dataclasses.fields(shape)
        if table_within(hints[field.name])[1] is None
    }
    told = rows(section(f"#### {heading}", section(part)), "key")
    assert [codes(row[0]) for row in told] == [[key] for key in known]
    for (_key, example, otherwise, meaning), field in zip(told, known.values(), strict=True):
        hint = hints[field.name]
        assert meaning
        read(hint, example)
        no_default = field.default is dataclasses.MISSING
        if no_default and field.default_factory is dataclasses.MISSING:
            assert otherwise == "required", field.name
        elif no_default or field.default in (None, "", ()):
            assert otherwise == "", field.name
        else:
            assert read(hint, otherwise) == field.default, field.name


def read(hint: Any, cell: str) -> Any:
    """The value that a cell's code has in a file, as the field holds it."""
    (literal,) = codes(cell)
    value = tomllib.loads(f"value = {literal}")["value"]
    return adapter(hint).validate_json(json.dumps(value))


@pytest.mark.parametrize("part", PARTS)
def test_no_table_is_told_that_is_not_there(part: str) -> None:
    told = re.findall(r"^#### (Top of the file|`\[.*\]`)$", section(part), re.MULTILINE)
    assert told == [heading for heading, _shape in headed(PARTS[part])]


def test_examples_hold_without_problems() -> None:
    sites = [parse_site(text.encode(), "README.md") for text in marked("example: site")]
    lists = [parse_checklist(text.encode(), "README.md") for text in marked("example: checklist")]
    for site in sites:
        sheet = Sheet(site)
        for checklist in lists:
            plan = build_plan(checklist, site, sheet.drawing.trees, sheet.worst_sets)
            assert any(step.item.compare for step in plan.steps)


def test_names_facts_and_comparisons_are_those_of_the_program() -> None:
    part = section("## Checklists")
    names = rows(part, "write")
    assert [codes(row[0]) for row in names] == [[f"{{{name}}}"] for name in PLACEHOLDERS]
    assert [row[2] for row in names] == [one.meaning for one in PLACEHOLDERS.values()]
    assert [codes(row[0])[0] for row in rows(part, "fact")] == list(get_args(Fact))
    compared = rows(part, "compared with")
    assert [(codes(row[0])[0], row[1]) for row in compared] == [
        (name, one.quantity) for name, one in COMPARED.items()
    ]
    repeated = section("#### What things are repeated for", part)
    assert set(codes(repeated)) == {"each", *get_args(Scope), "path/A/end/B12/loop-resistance"}


WHERE: dict[str, set[str]] = {
    "anything": set(get_args(Scope)),
    "anywhere": set(get_args(Scope)),
    "output, and all within it": {"output", "worst-set", "path", "box", "end", "station"},
    "path, and all within it": {"path", "box", "end", "station"},
}


def test_where_names_and_comparisons_hold() -> None:
    part = section("## Checklists")
    for row, name in zip(rows(part, "write"), PLACEHOLDERS.values(), strict=True):
        assert WHERE.get(row[1], set(row[1].split(", "))) == name.scopes, row[0]
    for row, one in zip(rows(part, "compared with"), COMPARED.values(), strict=True):
        assert WHERE.get(row[2], set(row[2].split(", "))) == one.scopes, row[0]


def test_numbers_that_can_be_read_in_two_ways_are_refused_as_told() -> None:
    told = section("## The site file")
    for length in ("1,200 ft", "1.200 m"):
        assert f'`"{length}"`' in told
        site = marked("example: site")[0].replace("1100 ft", length)
        with pytest.raises(problems.InputRefused, match=r"can be read as 1200 or as 1\.2"):
            parse_site(site.encode(), "README.md")


# What the program writes


def test_keys_and_types_of_the_record() -> None:
    part = section("## The record")
    header = [name for row in rows(part, "header") for name in codes(row[0])]
    fields = [field.name for field in dataclasses.fields(Header)]
    assert header == ["kind", "format", *fields, "sha256"]
    assert [codes(row[0])[0] for row in rows(part, "type of entry")] == list(get_args(EntryType))
    keys = [name for row in rows(part, "key of an entry") for name in codes(row[0])]
    assert sorted(keys) == sorted(field.name for field in dataclasses.fields(Entry))


@pytest.fixture(scope="module")
def signed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a job that was walked and signed."""
    session = begin(tmp_path_factory.mktemp("signed"), "small-garden")
    walk_to_the_end(session)
    session.sign(signoff(), KEY)
    session.close()
    return session.job.folder


@pytest.mark.parametrize("number", [0, 1, 3, 40])
def test_digests_are_recomputed_as_told(signed: Path, number: int) -> None:
    assert digest("digest of an entry", signed, number) == stated(signed, number)
    if number:
        assert digest("digest in a report", signed, number) == stated(signed, number)


def digest(mark: str, folder: Path, number: int) -> str:
    """What a command of the README gives for an entry, but for its last part, the SHA-256."""
    (command,) = marked(mark)
    lines, sha256 = command.replace("n=3", f"n={number}").rsplit(" | ", 1)
    assert sha256 == "sha256sum"
    ran = subprocess.run(["sh", "-c", lines], cwd=folder, capture_output=True, check=True)
    return hashlib.sha256(ran.stdout).hexdigest()


def stated(folder: Path, number: int) -> str:
    """The digest that the record states for an entry; 0 is the header."""
    record = tomllib.loads((folder / "record.toml").read_text("utf-8"))
    found = record if number == 0 else record["entry"][number - 1]
    return str(found["sha256"])


def test_parts_of_the_report(tmp_path: Path) -> None:
    told = [name for row in rows(section("## The report"), "part") for name in codes(row[0])]
    plain = {"kind", "format", "practice", "draft", "verdict", "verdict_remark", "exceptions"}
    assert sorted(told) == sorted({*HEADINGS, *plain, "report", "history"})
    session = begin(tmp_path, "small-garden")
    found = report_document(session.job)
    session.close()
    assert found.keys() <= set(told)


def paths_of(value: Any, place: str = "") -> Iterator[str]:
    """Where the values of a JSON document lie: "outputs[].paths[].path"."""
    if isinstance(value, dict):
        for key, member in value.items():
            yield from paths_of(member, f"{place}.{key}" if place else key)
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for member in value:
            yield from paths_of(member, f"{place}[]")
    else:
        yield place


def test_keys_of_the_expectations_for_programs() -> None:
    part = section("## Numbers for other programs")
    told = [name for row in rows(part, "key") for name in codes(row[0])]
    assert len(told) == len(set(told))
    for sample in samples().values():
        there = set(paths_of(document(Sheet(parse_site(sample.read_bytes(), sample.name)))))
        # A path's worst set has the keys of its output's: the README tells them once.
        same = {name.replace(".paths[].together.", ".together.") for name in there}
        assert same == set(told) - {"outputs[].together", "outputs[].paths[].together"}
