"""A report read back: strictly enough to show it and to find what is wrong with it."""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from commission.problems import InputRefused, Problem
from commission.record.chain import Verified
from commission.report.document import FORMAT, KIND
from commission.text import visible
from commission.toml_place import MAX_FILE_BYTES

VERDICTS = ("accepted", "handed over with exceptions")
MAX_LINE_BYTES = 40_000  # a check's line holds a few texts of at most MAX_TEXT characters
MAX_LINE_DOTS = 200  # before the first "=": a longer dotted key takes seconds to parse
MAX_DOTS = 50_000  # of all lines together, for the same reason
_HEAD_BYTES = 4_096
_LAST_LINE = re.compile(rb'\nsignature = "[A-Za-z0-9+/=]+"\n\Z')
MAX_MARKS = 400_000  # of a key, a list or a table; a report of sixty stations has some 60,000
MAX_LINES = 400_000  # one of sixty stations has some 26,000
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
    refuse_unlike(content, name)
    try:
        return tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError:
        problem = Problem(name, "this is not UTF-8 text")
    except RecursionError:
        problem = Problem(name, "brackets are nested too deeply")
    except ValueError as error:  # not TOML, or a date or number that cannot be
        problem = Problem(name, visible(str(error), 200))
    raise InputRefused([problem]) from None


def refuse_unlike(content: bytes, name: str) -> None:
    """Raise InputRefused for what would take long to parse, and is like no report."""
    if len(content) > MAX_FILE_BYTES:
        raise InputRefused([Problem(name, f"larger than {MAX_FILE_BYTES // 1_000_000} MB")])
    if marks(content) > MAX_MARKS:
        raise InputRefused([Problem(name, f"more than {MAX_MARKS} keys and values")])
    if content.count(b"\n") > MAX_LINES:
        raise InputRefused([Problem(name, f"more than {MAX_LINES} lines")])
    if line := _line_too_much(content):
        raise InputRefused([Problem(name, "no report has a line like this", line=line)])


def marks(content: bytes) -> int:
    """How many marks of a key, a list or a table a text has: by these it takes long to parse."""
    return sum(content.count(mark) for mark in (b"=", b",", b"[", b"{"))


def _line_too_much(content: bytes) -> int:
    """Number of the first line that is too long, or has too long a dotted key; 0 for none."""
    lines: Iterable[tuple[int, bytes]] = enumerate(content.split(b"\n"), start=1)
    if content.count(b".") <= MAX_DOTS:  # then only a long line can be one
        lines = [(number, line) for number, line in lines if len(line) > MAX_LINE_DOTS]
    dots = 0
    for number, line in lines:
        own = 0 if line.startswith(b"#") else line.partition(b"=")[0].count(b".")
        dots += own
        if len(line) > MAX_LINE_BYTES or own > MAX_LINE_DOTS or dots > MAX_DOTS:
            return number
    return 0


def shape_problems(report: Mapping[str, Any], name: str) -> list[Problem]:
    """What is missing, of another kind or of a newer format."""
    if report.get("kind") != KIND:
        return [Problem(name, f"its kind is not '{KIND}'", "kind")]
    if "draft" in report and "signoff" not in report:
        return [Problem(name, "a draft: nobody signed it, and anything in it may still change")]
    if report.get("format") != FORMAT:
        return [_another_format(report.get("format"), name)]
    found = [Problem(name, "this key is missing", key) for key in REQUIRED if key not in report]
    blocks = report.get("signoff", [])
    if not isinstance(blocks, list) or not all(isinstance(one, dict) for one in blocks):
        found.append(Problem(name, "sign-offs are tables", "signoff"))
    if not found and not blocks:
        found.append(Problem(name, "there is no sign-off in it", "signoff"))
    if not found and report["verdict"] not in VERDICTS:
        found.append(Problem(name, "this is no verdict", "verdict"))
    named = report.get("exception", [])
    if not isinstance(named, list) or not all(_is_named(one) for one in named):
        found.append(Problem(name, "each exception has a kind and says what", "exception"))
    return found


def _another_format(found: object, name: str) -> Problem:
    if isinstance(found, int) and found > FORMAT:
        words = f"format {found} is newer than this program reads ({FORMAT})"
        return Problem(name, words, "format", remedy="use a newer program")
    return Problem(name, f"this is no format of a report; this program reads {FORMAT}", "format")


def _is_named(exception: object) -> bool:
    return isinstance(exception, dict) and all(
        isinstance(exception.get(key), str) for key in ("kind", "what")
    )


def is_cut_off(content: bytes) -> bool:
    """Whether a file begins as a signed report and does not end as one."""
    begins = content[:_HEAD_BYTES]
    is_signed = b'\nkind = "commission report"\n' in begins and b"\ndraft = " not in begins
    return is_signed and not _LAST_LINE.search(content[-200:])


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


def record_problems(content: bytes, name: str, beside: Verified) -> list[Problem]:
    """Whether a sound report holds the record beside it: how many entries, the last's digest.

    That record is of the report's own job, or of an inspection in it.
    """
    report, count = parse_report(content, name), len(beside.entries)
    records = [report["record"], *(one["record"] for one in report.get("inspection", []))]
    mine = next((one for one in records if one["job"] == beside.header.job), records[0])
    if mine["entries"] < count:
        more = count - mine["entries"]
        words = f"{more} more entr{'y' if more == 1 else 'ies'}"
        return [Problem(name, f"the record beside it goes on: {words}", "record")]
    if mine["entries"] > count or (mine["last_sha256"] or mine["sha256"]) != beside.digest:
        return [Problem(name, "it holds another record than the one beside it", "record")]
    return []
