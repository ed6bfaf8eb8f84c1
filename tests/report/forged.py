"""Reports that a forger wrote: TOML that parses alike and reads otherwise, and pieces of his own.

Of each the quick look, which parses only what a report is made from, must say the same as the look
at all of it. As a script it tries as many as asked for:

    python -m tests.report.forged 2500 12       # so many, from this random state
"""

from __future__ import annotations

import contextlib
import random
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from unittest import mock

from commission.report import examined as module
from commission.report.examined import Examined, examined
from tests import walks
from tests.report.mutated import blocks, originals
from tests.report.sealing import FORGER, INSPECTOR, countersigned, resealed, resealed_last

Forger = Callable[[random.Random, bytes], bytes]
ALIKE = {"a": "а", "e": "е", "o": "о", "i": "і", "c": "с", "p": "р", "A": "А", "S": "Ѕ", "-": "‐"}
LINES = (
    b"draft = 'x'", b"practice = 'x'", b"more = 1", b"record.practice = true", b"[practice]",
    b"[[exception]]\nkind = 'a'\nwhat = 'b'", b"[[path]]", b"[stage]", b"[[history]]\nnumber = 1",
    b"[[signoff]]\nnumber = 2", b"[[inspection]]", b"inspection = []", b"x = '''", b'"""',
    b"decision = 'countersigned'", b"# accepted", b"# [record]", b"[record]", b"",
)  # fmt: skip


def _put(
    rng: random.Random, content: bytes, pattern: bytes, new: Callable[[str], list[str]]
) -> bytes:
    """The first group of one match changed into one of several texts."""
    one = rng.choice(list(re.finditer(pattern, content, re.MULTILINE)))
    text = rng.choice(new(one[1].decode("utf-8", "replace")))
    return content[: one.start(1)] + text.encode("utf-8") + content[one.end(1) :]


def fraction(rng: random.Random, content: bytes) -> bytes:
    """A number with a fraction, written otherwise or another one in a late digit."""

    def others(text: str) -> list[str]:
        near = (float(text) * (1 + 5e-10), float(text) * (1 + 2e-9))
        written = [f"{text}0", f"+{text}", f"-{text}", f"{text}e0", f"{float(text):.17e}", "nan"]
        return [*written, *map(repr, near)]

    return _put(rng, content, rb'(?<![\w."-])(\d+\.\d+)(?=[,\n \]}])', others)


def integer(rng: random.Random, content: bytes) -> bytes:
    """A whole number of the same value, or of another kind."""
    return _put(
        rng, content, rb"= (\d+)$",
        lambda text: [f"+{text}", hex(int(text)), f"{text}.0", f"{text} # x", "true", "-0"],
    )  # fmt: skip


def quoted_text(rng: random.Random, content: bytes) -> bytes:
    """A text with escapes, other quotes, or a letter that looks the same."""

    def others(text: str) -> list[str]:
        at = rng.randrange(len(text))
        before, here, after = text[:at], text[at], text[at + 1 :]
        inside = [
            f"\\u{ord(here) & 0xFFFF:04X}", f"\\U{ord(here):08X}", ALIKE.get(here, f"{here}\u0301"),
            "\u00a0", "\\u202e", "\\u001b[2J", f"{here}\u200b",
        ]  # fmt: skip
        found = [f'"{before}{one}{after}"' for one in inside]
        return [*found, f"'{text}'", f'"""{text}"""', f"'''{text}'''"]

    return _put(rng, content, rb'= ("[^"\\\n]+")$', lambda quoted: others(quoted[1:-1]))


def layout(rng: random.Random, content: bytes) -> bytes:
    """Blanks, remarks, quoted and dotted keys, headings written otherwise."""
    return _put(
        rng, content, rb"^([a-z_.0-9]+ =|\[\[?[a-z_.]+\]\]?)",
        lambda line: (
            [f'"{line[:-2]}" =', f"{line[:-2]}.x =", f"  {line}", f"{line[:-1]}\t="]
            if line.endswith("=")
            else [f"{line} # x", line.replace("[", "[ "), f"[{line}]", line.strip("[]")]
        ),
    )  # fmt: skip


def line(rng: random.Random, content: bytes) -> bytes:
    """A line put in."""
    lines = content.split(b"\n")
    lines.insert(rng.randrange(len(lines)), rng.choice(LINES))
    return b"\n".join(lines)


FORGERS: tuple[Forger, ...] = (fraction, integer, quoted_text, layout, line, blocks)


def _signed_on(rng: random.Random, content: bytes) -> bytes:
    """A further sign-off by somebody, as the program writes it or spoilt."""
    key = rng.choice((FORGER, INSPECTOR, walks.KEY))
    after = countersigned(content, key, rng.choice(("owner", "inspector")))
    piece = after[len(content) :]
    if rng.random() < 0.8:
        with contextlib.suppress(ValueError, IndexError):
            piece = rng.choice(FORGERS)(rng, piece)
    return resealed_last(content + piece, key)


def forged(count: int, seed: int) -> Iterator[tuple[str, bytes]]:
    """So many reports, each with what was done to it; signed anew where that can be."""
    rng = random.Random(seed)
    for number in range(count):
        done, content = "piece", rng.choice(originals()[:2] if number % 3 else originals())
        if number % 3:
            forger = rng.choice(FORGERS)
            done = forger.__name__
            for _ in range(rng.choice((1, 1, 3))):
                with contextlib.suppress(ValueError, IndexError):
                    content = forger(rng, content)
            with contextlib.suppress(ValueError):  # nothing in it can be signed
                content = resealed(content)
        if number % 3 == 0 or number % 5 == 0:
            with contextlib.suppress(Exception):  # nothing can be made of it to sign on
                content, done = _signed_on(rng, content), f"{done} signed on"
        yield f"{number} {done}", content


def said(seen: Examined) -> tuple[object, ...]:
    """All that an examination says of a report."""
    entries = None if seen.job is None else seen.job.state.entries
    report = None if seen.report is None else dict(seen.report)
    return seen.state, seen.findings, report, entries, len(seen.inspections), seen.exact


def both_ways(content: bytes) -> tuple[Examined, str, str]:
    """A report looked at, and all that is said of it by the quick way and by the other."""
    seen = examined(content, "report.toml", quick=True)
    with mock.patch.object(module, "_at_first", return_value=None):
        whole = examined(content, "report.toml", quick=True)
    return seen, repr(said(seen)), repr(said(whole))


def main(count: int, seed: int) -> None:
    """Look at forged reports in both ways and tell where they differ."""
    states, differ = Counter[str](), 0
    for what, content in forged(count, seed):
        seen, quick, whole = both_ways(content)
        states[seen.state] += 1
        if quick != whole:
            differ += 1
            print(what, "differs", quick[:200], whole[:200])
    print(f"{count} looked at in both ways, {differ} differ, states {dict(states)}")


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:3]]
    main(*(numbers + [2_500, 1][len(numbers) :]))
