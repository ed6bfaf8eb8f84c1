"""Every bit of a countersigned report, flipped one at a time: python -m tests.every_bit.

The report is that of the small sample, inspected and countersigned. Each flip must be found by its
review. The first thing that settles it is enough, from the cheapest on:

- *text*: the file is no UTF-8 any more, or holds a control character: TOML has them in no
  place, and no report has one in a line end;
- *seal*: the last signature covers another text. Ed25519 verifies S·B = R + k·A with
  k = SHA-512(R, A, text) (RFC 8032 section 5.1.7): for one R, S and key A of prime order L a single
  k modulo L does. The key is that of the last block, whose text a flip above it leaves as it was;
- *block*: within the last block the program reads it and checks the signatures;
- *whole*: within the last signature line, and where nothing before settles it, the whole report.

Of those that text or seal settle some are drawn and given to the whole review too. Printed are the
number of flips that each settled, and every flip that nothing found.

`--one-in N` tries one bit in N, drawn anew in each run; `--processes N` runs so many at once.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from multiprocessing import get_context
from tempfile import TemporaryDirectory

from commission.problems import InputRefused
from commission.report.examined import report_problems
from commission.report.reading import as_written, parse_report, shape_problems
from commission.report.seal import KEY_BYTES, as_bytes, seal_problems
from commission.user.key_text import SIGNATURE_BYTES

NAME = "report.toml"
ORDER = 2**252 + 27742317777372353535851937790883648493  # L of Ed25519, RFC 8032 section 5.1
HASHED_BYTES = 128  # what SHA-512 takes at a time
REVIEWED_ONE_IN = 20_000
_AT_ONCE_BYTES = 2_048
_BLOCK = b"\n[[signoff]]\n"
_QUOTES = (b'"""', b"'''")

Flip = tuple[int, int]  # place of the byte, number of the bit


class Flipper:
    """Flips bits of one report, and says what finds each."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.block = content.rindex(_BLOCK) + 1
        tail = content[self.block :]
        assert not any(quotes in tail for quotes in _QUOTES), "a text could hold the whole block"
        self._report = tomllib.loads(content.decode("utf-8"))
        last = self._report["signoff"][-1]
        key, signature = (
            as_bytes(last["public_key"], KEY_BYTES),
            as_bytes(last["signature"], SIGNATURE_BYTES),
        )
        assert key is not None
        assert signature is not None
        self._covered = memoryview(content)[: last["signed_bytes"]]
        self._at, self._hash = 0, hashlib.sha512(signature[:32] + key)
        self._k = self._number(self._hash.copy(), self._covered)

    @staticmethod
    def _number(state: hashlib._Hash, rest: memoryview | bytes) -> int:
        state.update(rest)
        return int.from_bytes(state.digest(), "little") % ORDER

    def flipped(self, flip: Flip) -> bytes:
        """The report with one bit flipped."""
        place, bit = flip
        content = bytearray(self.content)
        content[place] ^= 1 << bit
        return bytes(content)

    def found_by(self, flip: Flip) -> str:
        """What finds a flip; "" when nothing does. Flips come by rising place."""
        place = flip[0]
        if not self._is_text(flip):
            return "text"
        if place < self.block and self._is_unsealed(flip):
            return "seal"
        content = self.flipped(flip)
        if self.block < place < len(self._covered) and self._is_found_in_block(content):
            return "block"
        return "whole" if is_found(content) else ""

    def _is_text(self, flip: Flip) -> bool:
        """Whether the line is still text that TOML may hold; a line end flipped joins two."""
        place, bit = flip
        start = self.content.rfind(b"\n", 0, place) + 1
        end = self.content.find(b"\n", place) + 1
        line = bytearray(self.content[start:end])
        line[place - start] ^= 1 << bit
        if line[place - start] < 0x20 and line[place - start] not in b"\t\n":
            return False
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            return False
        return line[place - start] != 0x7F

    def _is_unsealed(self, flip: Flip) -> bool:
        """Whether the last signature does not hold over the text with a bit flipped."""
        place, bit = flip
        start = max(0, place - place % HASHED_BYTES)
        self._hash.update(self._covered[self._at : start])
        self._at = start
        piece = bytearray(self._covered[start : start + HASHED_BYTES])
        piece[place - start] ^= 1 << bit
        state = self._hash.copy()
        state.update(piece)
        return self._number(state, self._covered[start + HASHED_BYTES :]) != self._k

    def _is_found_in_block(self, content: bytes) -> bool:
        """Whether the last block is none any more, or the signatures are found not to hold.

        All above it reads as before: it is not read again.
        """
        try:
            tail = tomllib.loads(content[self.block :].decode("utf-8"))
        except ValueError:
            return True
        if list(tail) != ["signoff"] or len(tail["signoff"]) != 1:
            return False  # for the whole review to say
        signoffs = [*self._report["signoff"][:-1], *tail["signoff"]]
        return bool(seal_problems(content, {**self._report, "signoff": signoffs}, NAME))


def is_found(content: bytes) -> bool:
    """Whether anything is found in a report; read whole, and made again if need be."""
    plain, found = as_written(content, NAME)
    if found:
        return True
    try:
        report = parse_report(plain, NAME)
    except InputRefused:
        return True
    if shape_problems(report, NAME) or seal_problems(plain, report, NAME):
        return True
    return bool(report_problems(content, NAME))


def tried(
    content: bytes, places: range, one_in: int, reviewed_one_in: int = REVIEWED_ONE_IN
) -> tuple[Counter[str], list[Flip]]:
    """The bits of some bytes flipped: how many each way found, and those that nothing found."""
    flipper, rng = Flipper(content), random.Random()
    counts: Counter[str] = Counter()
    missed: list[Flip] = []
    for flip in drawn(places, one_in, rng):
        how = flipper.found_by(flip)
        if how in ("text", "seal") and rng.randrange(reviewed_one_in) == 0:
            counts["of these reviewed whole too"] += 1
            how = how if report_problems(flipper.flipped(flip), NAME) else ""
        counts[how or "nothing"] += 1
        if not how:
            missed.append(flip)
    return counts, missed


def drawn(places: Iterable[int], one_in: int, rng: random.Random) -> Iterator[Flip]:
    """All bits of some bytes, or some of them."""
    for place in places:
        for bit in range(8):
            if one_in == 1 or rng.randrange(one_in) == 0:
                yield place, bit


def report() -> bytes:
    """The small sample, commissioned, inspected and countersigned."""
    from tests.report.test_inspection import countersigned

    with TemporaryDirectory() as folder:
        os.environ["COMMISSION_HOME"] = folder
        return countersigned()


def main(arguments: list[str]) -> int:
    """Try all and print what came of it; 1 when a flip was not found."""
    words = argparse.ArgumentParser(prog="python -m tests.every_bit")
    words.add_argument("--one-in", type=int, default=1, metavar="N")
    words.add_argument("--processes", type=int, default=os.cpu_count() or 1, metavar="N")
    options = words.parse_args(arguments)
    content = report()
    parts = [
        range(start, min(start + _AT_ONCE_BYTES, len(content)))
        for start in range(0, len(content), _AT_ONCE_BYTES)
    ]
    random.Random(1).shuffle(parts)  # long and short ones mixed: what is told is told evenly
    counts: Counter[str] = Counter()
    missed: list[Flip] = []
    with ProcessPoolExecutor(options.processes, get_context("spawn")) as pool:
        work = pool.map(partial(tried, content, one_in=options.one_in), parts)
        for done, (found, not_found) in enumerate(work, start=1):
            counts += found
            missed += not_found
            if sys.stderr.isatty():
                print(f"\r{done} of {len(parts)}", end="", file=sys.stderr, flush=True)
    total = sum(counts.values()) - counts["of these reviewed whole too"]
    print(f"{len(content)} bytes, {total} bits flipped one at a time, not found: {len(missed)}")
    for how, count in counts.most_common():
        print(f"{count:10} {how}")
    for place, bit in missed:
        print(f"not found: bit {bit} of byte {place}: {content[place - 20 : place + 20]!r}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
