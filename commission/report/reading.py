"""A report read back: strictly enough to show it and to find what is wrong with it."""

from __future__ import annotations

import codecs
import hashlib
import tomllib
from pathlib import Path
from typing import Any

from commission.problems import InputRefused, Problem
from commission.report.again import body_problems
from commission.report.document import FORMAT, KIND
from commission.report.history import chain_problems
from commission.report.seal import seal_problems
from commission.text import visible
from commission.toml_place import MAX_FILE_BYTES

VERDICTS = ("accepted", "handed over with exceptions")
MAX_LINE_BYTES = 40_000  # a check's line holds a few texts of at most MAX_TEXT characters
MAX_LINE_DOTS = 200  # before the first "=": a longer dotted key takes seconds to parse
REQUIRED = ("verdict", "report", "job", "site", "inputs", "record", "files", "signoff")


def read_report(path: Path) -> dict[str, Any]:
    """The report as a dictionary; raises InputRefused with every problem of its shape."""
    name = visible(path.name)
    try:
        content = path.read_bytes()
    except OSError as error:
        raise InputRefused([Problem(name, f"can't be read: {error.strerror or error}")]) from error
    report = parse_report(content, name)
    found = shape_problems(report, name)
    if found:
        raise InputRefused(found)
    return report


def parse_report(content: bytes, name: str) -> dict[str, Any]:
    """The TOML of a report; raises InputRefused in words."""
    if len(content) > MAX_FILE_BYTES:
        raise InputRefused([Problem(name, f"larger than {MAX_FILE_BYTES // 1_000_000} MB")])
    for number, line in enumerate(content.split(b"\n"), start=1):
        if len(line) > MAX_LINE_BYTES or line.partition(b"=")[0].count(b".") > MAX_LINE_DOTS:
            raise InputRefused([Problem(name, "no report has a line like this", line=number)])
    try:
        return tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError:
        problem = Problem(name, "this is not UTF-8 text")
    except RecursionError:
        problem = Problem(name, "brackets are nested too deeply")
    except ValueError as error:  # not TOML, or a date or number that cannot be
        problem = Problem(name, visible(str(error), 200))
    raise InputRefused([problem]) from None


def shape_problems(report: dict[str, Any], name: str) -> list[Problem]:
    """What is missing, of another kind or of a newer format."""
    if report.get("kind") != KIND:
        return [Problem(name, f"its kind is not '{KIND}'", "kind")]
    if "draft" in report and "signoff" not in report:
        return [Problem(name, "a draft: nobody signed it, and anything in it may still change")]
    if report.get("format") != FORMAT:
        return [Problem(name, f"this program reads format {FORMAT}", "format")]
    found = [Problem(name, "this key is missing", key) for key in REQUIRED if key not in report]
    if not found and report["verdict"] not in VERDICTS:
        found.append(Problem(name, "this is no verdict", "verdict"))
    named = report.get("exception", [])
    if not isinstance(named, list) or not all(_is_named(one) for one in named):
        found.append(Problem(name, "each exception has a kind and says what", "exception"))
    return found


def _is_named(exception: object) -> bool:
    return isinstance(exception, dict) and all(
        isinstance(exception.get(key), str) for key in ("kind", "what")
    )


def report_problems(content: bytes, name: str) -> list[Problem]:
    """Every problem of a report's bytes, by themselves: signatures, record, files, and the body.

    The body is compared once the record in it holds: it is made again from that.
    """
    plain, found = as_written(content, name)
    try:
        report = parse_report(plain, name)
    except InputRefused as refused:
        return [*found, *refused.problems]
    shape = shape_problems(report, name)
    return [*found, *(shape or _inner_problems(plain, report, name))]


def as_written(content: bytes, name: str) -> tuple[bytes, list[Problem]]:
    """A report as it was before mail or an editor changed its line ends or put a mark in front.

    No report holds a carriage return of its own: a text's are written as code points.
    """
    found = []
    if content.startswith(codecs.BOM_UTF8):
        content = content.removeprefix(codecs.BOM_UTF8)
        words = (
            "a byte-order mark was put in front of it; without it the signatures cover its bytes"
        )
        found.append(Problem(name, words, line=1, remedy="take the first three bytes away"))
    if b"\r\n" in content:
        content = content.replace(b"\r\n", b"\n")
        words = (
            "its line ends were changed on the way, by mail or an editor: what follows is said of "
            "it with line feeds put back"
        )
        remedy = "ask for the file as an archive, which nothing changes"
        found.append(Problem(name, words, remedy=remedy))
    return content, found


def _inner_problems(content: bytes, report: dict[str, Any], name: str) -> list[Problem]:
    try:
        inner = [
            *(Problem(name, words, "history") for words in chain_problems(report)),
            *_file_problems(report, name),
        ]
        inner = inner or body_problems(report, content, name)
        return [*seal_problems(content, report, name), *inner]
    except InputRefused as refused:
        return list(refused.problems) or [Problem(name, str(refused))]
    except (TypeError, ValueError, LookupError, AttributeError, ArithmeticError) as error:
        words = visible(str(error), 200)
        return [Problem(name, f"it is not a report as this program writes it: {words}")]


def record_problems(content: bytes, name: str, count: int, last_sha256: str) -> list[Problem]:
    """Whether a sound report holds the record beside it: how many entries, the last's digest."""
    record = parse_report(content, name)["record"]
    if record["entries"] < count:
        more = count - record["entries"]
        words = f"{more} more entr{'y' if more == 1 else 'ies'}"
        return [Problem(name, f"the record beside it goes on: {words}", "record")]
    if record["entries"] > count or (record["last_sha256"] or record["sha256"]) != last_sha256:
        return [Problem(name, "it holds another record than the one beside it", "record")]
    return []


def _file_problems(report: dict[str, Any], name: str) -> list[Problem]:
    """Both embedded files must have the digests that the record's header names."""
    return [
        Problem(name, "the text differs from what the job was made from", f"files.{key}")
        for key in ("site", "checklist")
        if hashlib.sha256(report["files"][key].encode("utf-8")).hexdigest()
        != report["record"][f"{key}_sha256"]
    ]
