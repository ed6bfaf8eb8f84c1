"""A QR code read back from its drawing, by ISO/IEC 18004 and not by the library that made it.

Only version 5 with error correction M (table 9: two blocks of 43 data codewords), and undamaged:
that is what 64 digits in byte mode need (table 7).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

SIZE, QUIET = 37, 4  # modules of version 5, and of the quiet zone around it
DATA, BLOCKS = 86, 2
FORMAT_MASK = 0b101010000010010  # 7.9.1
MASKS: list[Callable[[int, int], int]] = [  # table 10: row i, column j; 0 inverts
    lambda i, j: (i + j) % 2,
    lambda i, j: i % 2,
    lambda i, j: j % 3,
    lambda i, j: (i + j) % 3,
    lambda i, j: (i // 2 + j // 3) % 2,
    lambda i, j: i * j % 2 + i * j % 3,
    lambda i, j: (i * j % 2 + i * j % 3) % 2,
    lambda i, j: ((i + j) % 2 + i * j % 3) % 2,
]


def modules_of(path: str) -> set[tuple[int, int]]:
    """The dark modules, (row, column), of a path of runs `Mx yh..v1h-..z`, quiet zone off."""
    dark = set()
    for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", path):
        dark |= {(int(y) - QUIET, int(x) - QUIET + n) for n in range(int(length))}
    return dark


def read(dark: set[tuple[int, int]]) -> str:
    """The text of a code."""
    assert max(max(place) for place in dark) == SIZE - 1
    first = [(8, n) for n in (0, 1, 2, 3, 4, 5, 7, 8)] + [(n, 8) for n in (7, 5, 4, 3, 2, 1, 0)]
    told = int("".join(str(int(place in dark)) for place in first), 2) ^ FORMAT_MASK
    assert told >> 13 == 0b00, "not error correction M"
    mask = MASKS[told >> 10 & 0b111]
    bits = "".join(str(int((place in dark) ^ (mask(*place) == 0))) for place in _places())
    words = [int(bits[n : n + 8], 2) for n in range(0, 8 * DATA, 8)]
    stream = "".join(f"{words[n]:08b}" for block in range(BLOCKS) for n in range(block, DATA, 2))
    assert stream[:4] == "0100", "not byte mode"
    count = int(stream[4:12], 2)
    return bytes(int(stream[12 + 8 * n : 20 + 8 * n], 2) for n in range(count)).decode("ascii")


def _places() -> Iterator[tuple[int, int]]:
    """The modules that hold codewords, in their order: pairs of columns, up and down in turn."""
    upwards = True
    for right in [*range(SIZE - 1, 6, -2), 5, 3, 1]:
        for n in range(SIZE):
            row = SIZE - 1 - n if upwards else n
            for column in (right, right - 1):
                if not _is_function(row, column):
                    yield row, column
        upwards = not upwards


def _is_function(row: int, column: int) -> bool:
    far = SIZE - 8
    finder = (row < 9 and (column < 9 or column >= far)) or (row >= far and column < 9)
    aligning = 28 <= row <= 32 and 28 <= column <= 32  # centre 30, annex E
    return finder or aligning or row == 6 or column == 6
