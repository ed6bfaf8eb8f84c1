"""Reports that somebody or something has spoilt, thousands of them, from a random state.

As a script it reviews as many as asked for and tells the slowest:

    python -m tests.report.mutated 20000 7      # so many, from this random state
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from commission import cli
from tests.report import small
from tests.report.sealing import countersigned, resealed, with_files

Mutator = Callable[[random.Random, bytes], bytes]
MAX_SECONDS = 2.0
FORMS: tuple[list[str], ...] = ([], ["--json"], ["--csv"], ["--digest", "ab" * 32])
VALUES = (
    b"true", b"0", b"-1", b"''", b"[]", b"{}", b"[[[]]]", b"nan", b"-inf", b"1e400", b"1e308",
    b"9" * 4000, b"9" * 4400, b"0x" + b"f" * 9000, b"9223372036854775807", b"[" * 300 + b"]" * 300,
    b"[" * 3000, b"{a=" * 200 + b"1" + b"}" * 200, b"0000-00-00", b"9999-12-31T23:59:59Z",
    b"0001-01-01T00:00:00+23:59", b"2031-02-30", b"24:00:00", b"2031-05-04T08:00:00",
    b'"\\u001b[2J\\u0007"', b'"\\u202e\\u2028\\u0085"', b"'" + b"x" * 9000 + b"'", b'"\\ud800"',
)  # fmt: skip
LINES = (
    b"a." * 190 + b"a = 1", b"a." * 20_000 + b"a = 1", b"k" * 30_000 + b" = 1", b"x" * 50_000,
    b"[[signoff]]", b"[signoff]", b"[record]", b"[[history]]", b"[files]", b"signature = ''", b"=",
    b'"\\u001b]0;x\\u0007" = 1', b"\x1b[2J", b"\x00", b"\xff\xfe", b"\xc2\x9b", b"\r", b"[a]\nb=1",
)  # fmt: skip


def _places(rng: random.Random, lines: list[bytes], count: int) -> list[int]:
    return sorted(rng.randrange(len(lines)) for _ in range(count))


def flipped(rng: random.Random, content: bytes) -> bytes:
    """A few bits changed."""
    spoilt = bytearray(content)
    for _ in range(rng.choice((1, 1, 3, 30))):
        spoilt[rng.randrange(len(spoilt))] ^= 1 << rng.randrange(8)
    return bytes(spoilt)


def on_lines(change: Callable[[random.Random, list[bytes]], None]) -> Mutator:
    """A mutator that works on the lines of a file."""

    def mutated(rng: random.Random, content: bytes) -> bytes:
        lines = content.split(b"\n")
        change(rng, lines)
        return b"\n".join(lines)

    mutated.__name__ = change.__name__
    return mutated


@on_lines
def duplicated(rng: random.Random, lines: list[bytes]) -> None:
    """Some lines twice, or very often."""
    start, end = _places(rng, lines, 2)
    part = lines[start : min(end, start + 40)]
    lines[start:start] = part * rng.choice((1, 1, 2, 50))


@on_lines
def deleted(rng: random.Random, lines: list[bytes]) -> None:
    """Some lines gone."""
    start, end = _places(rng, lines, 2)
    del lines[start : rng.choice((start + 1, end))]


@on_lines
def swapped(rng: random.Random, lines: list[bytes]) -> None:
    """Two lines changed over."""
    one, other = _places(rng, lines, 2)
    lines[one], lines[other] = lines[other], lines[one]


@on_lines
def inserted(rng: random.Random, lines: list[bytes]) -> None:
    """A line that does not belong there."""
    lines.insert(_places(rng, lines, 1)[0], rng.choice(LINES))


@on_lines
def revalued(rng: random.Random, lines: list[bytes]) -> None:
    """A value of another kind, or one that cannot be."""
    keyed = [place for place, line in enumerate(lines) if b" = " in line]
    for place in rng.sample(keyed, min(len(keyed), rng.choice((1, 1, 3)))):
        lines[place] = lines[place].partition(b" = ")[0] + b" = " + rng.choice(VALUES)


@on_lines
def renamed(rng: random.Random, lines: list[bytes]) -> None:
    """A key that nobody knows."""
    keyed = [place for place, line in enumerate(lines) if b" = " in line]
    place = rng.choice(keyed)
    lines[place] = b"strange = " + lines[place].partition(b" = ")[2]


def renumbered(rng: random.Random, content: bytes) -> bytes:
    """A number made larger, smaller, or no number."""
    found = list(re.finditer(rb"(?<![\w.])\d+(\.\d+)?(?![\w.])", content))
    one = rng.choice(found)
    new = rng.choice((b"0", b"1e300", b"-" + one[0], one[0] * 40, one[0] + b"1", b"1e-300"))
    return content[: one.start()] + new + content[one.end() :]


def cut(rng: random.Random, content: bytes) -> bytes:
    """The end gone, or the beginning."""
    place = rng.randrange(len(content))
    return content[:place] if rng.random() < 0.8 else content[place:]


def blocks(rng: random.Random, content: bytes) -> bytes:
    """Tables changed over, twice, or gone."""
    parts = content.split(b"\n[")
    one, other = sorted(rng.randrange(1, len(parts)) for _ in range(2))
    what = rng.randrange(3)
    if what == 0:
        parts[one], parts[other] = parts[other], parts[one]
    elif what == 1:
        parts.insert(other, parts[one])
    else:
        del parts[one]
    return b"\n[".join(parts)


def spliced(rng: random.Random, content: bytes) -> bytes:
    """The beginning of one report and the end of another."""
    other = rng.choice(originals())
    return content[: rng.randrange(len(content))] + other[rng.randrange(len(other)) :]


def copied(rng: random.Random, content: bytes) -> bytes:
    """A table once more, under other ids and numbers: most that is spoilt so can be read."""
    parts = content.split(b"\n[")
    named = [n for n, part in enumerate(parts) if re.search(rb"(?m)\bid = \"", part)]
    if not named:
        return blocks(rng, content)
    one = rng.choice(named)
    again = re.sub(rb"\b((?:id|to) = \"[\w.-]{1,12})", rb"\1-2", parts[one])
    again = re.sub(rb"\b((?:number|address) = )(\d)", rb"\g<1>9\2", again)
    parts.insert(rng.choice((one + 1, len(parts))), again)
    return b"\n[".join(parts)


MUTATORS: tuple[Mutator, ...] = (
    flipped, duplicated, deleted, swapped, inserted, revalued, renamed, renumbered, cut, blocks,
    spliced, copied,
)  # fmt: skip


@lru_cache
def originals() -> tuple[bytes, ...]:
    """The reports that are spoilt."""
    return (small.sound(), small.troubled(), countersigned(small.sound()))


def of_files(rng: random.Random, content: bytes) -> bytes:
    """Other files in a report whose digests, chain and signature are right."""
    files = tomllib.loads(content.decode("utf-8"))["files"]
    name = rng.choice(("site", "site", "checklist"))
    mutator = rng.choice((*MUTATORS[1:7], *[renumbered] * 6))  # most others can't be read
    spoilt = mutator(rng, files[name].encode("utf-8")).decode("utf-8", "replace")
    files[name] = spoilt.replace("\x00", "").replace("\r", "")
    return with_files(content, files["site"], files["checklist"])


def mutated(count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """So many spoilt reports, each with what was done to it; some are signed anew by a forger."""
    rng = random.Random(seed)
    for number in range(count):
        content = rng.choice(originals()[:2] if number % 5 == 0 else originals())
        if number % 5 == 0:
            yield f"{number} files", of_files(rng, content)
            continue
        mutator = MUTATORS[number % len(MUTATORS)]
        spoilt = mutator(rng, content)
        if number % 3 == 0:
            with contextlib.suppress(ValueError):  # nothing in it can be signed
                spoilt = resealed(spoilt)
        yield f"{number} {mutator.__name__}", spoilt


def reviewed(path: Path, content: bytes, form: list[str]) -> tuple[int, str, float]:
    """Exit code, all that was printed, and the seconds of processor time of one review."""
    path.write_bytes(content)
    printed = io.StringIO()
    begun = time.process_time()
    with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
        code = cli.main(["review", str(path), *form])
    return code, printed.getvalue(), time.process_time() - begun


def main(count: int, seed: int) -> None:
    """Review spoilt reports and tell how long the slowest took, and what was wrong."""
    slowest, wrong, codes = (0.0, ""), 0, Counter[int]()
    with TemporaryDirectory() as folder:
        os.environ["COMMISSION_HOME"] = folder
        path = Path(folder, "report.toml")
        for number, (what, content) in enumerate(mutated(count, seed)):
            code, printed, seconds = reviewed(path, content, FORMS[number % len(FORMS)])
            codes[code] += 1
            slowest = max(slowest, (seconds, what))
            if code not in (0, 1) or not printed.replace("\n", "").isprintable():
                wrong += 1
                print(what, code, repr(printed[-300:]))
    print(f"{count} reviewed, exit codes {dict(codes)}, wrong {wrong}, slowest {slowest}")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:3]]
    main(*(numbers + [2_000, 1][len(numbers) :]))
