"""A browser without a screen: pages printed to PDF, drawn, and measured; poppler reads the PDF."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

NAMES = ("chromium", "chromium-headless-shell")
LETTER, A4 = (612, 792), (595, 842)  # points: 8.5 x 11 in, 210 x 297 mm (ISO 216)
_QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage")
_MEASURE = """
<script>
const root = document.documentElement, cut = [];
for (const one of document.querySelectorAll("body, section, td, th, p, div, li, h1, h2")) {
  const wide = one.getBoundingClientRect();
  const over = one.scrollWidth > one.clientWidth + 1 && one.clientWidth > 0;
  if (over || wide.right > root.clientWidth + 1 || wide.left < -1)
    cut.push([one.tagName, one.textContent.slice(0, 60)]);
}
for (const svg of document.querySelectorAll("svg")) {
  const frame = svg.getBoundingClientRect();
  for (const one of svg.querySelectorAll("text, rect, circle, polygon, path")) {
    const box = one.getBoundingClientRect();
    if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1
        || box.bottom > frame.bottom + 1) cut.push([one.tagName, one.textContent.slice(0, 60)]);
  }
  const words = [...svg.querySelectorAll("text")].map(one => [one, one.getBoundingClientRect()]);
  words.forEach(([one, a], n) => words.slice(n + 1).forEach(([other, b]) => {
    const beside = a.left > b.right - 1 || b.left > a.right - 1;
    if (!beside && a.top < b.bottom - 3 && b.top < a.bottom - 3)
      cut.push(["over one another", `${one.textContent} and ${other.textContent}`]);
  }));
}
document.body.textContent = JSON.stringify(cut);
</script>
"""


@cache
def program(*names: str) -> str:
    """The first of some programs that is here; without one the test says that it could not run."""
    found = next((path for name in names if (path := shutil.which(name))), None)
    if found is None:
        pytest.fail(f"{names[0]} is not installed: the pages could not be drawn and looked at")
    return found


def run(*command: str) -> str:
    """What a program prints."""
    done = subprocess.run(command, capture_output=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr.decode(errors="replace")
    return done.stdout.decode("utf-8", "replace")


def with_style(page: str, style: str) -> str:
    """A page with more style."""
    return page.replace("</style>", f"{style}</style>", 1)


def printed(page: str, folder: Path, size: tuple[int, int]) -> Path:
    """A page as PDF on paper of a size in points."""
    browser = program(*NAMES)
    file, pdf = folder / "page.html", folder / "page.pdf"
    paper = f"@page {{ size: {size[0]}pt {size[1]}pt; }}"
    file.write_text(with_style(page, paper), encoding="utf-8")
    profile = f"--user-data-dir={folder / 'profile'}"
    run(browser, *_QUIET, profile, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", str(file))
    return pdf


def sheets(pdf: Path) -> list[str]:
    """The text of every sheet of paper."""
    return run(program("pdftotext"), "-layout", str(pdf), "-").split("\f")[:-1]


def sheet_size(pdf: Path) -> tuple[int, int]:
    """Width and height of the paper, in points."""
    told = re.search(r"Page size: +([\d.]+) x ([\d.]+)", run(program("pdfinfo"), str(pdf)))
    assert told is not None
    return round(float(told[1])), round(float(told[2]))


def ink(pdf: Path, folder: Path) -> list[float]:
    """How much of every sheet is not white, and its outermost 5 mm with it: drawn at 36 dpi."""
    run(program("pdftoppm"), "-r", "36", "-gray", str(pdf), str(folder / "drawn"))
    shares = []
    for file in sorted(folder.glob("drawn*.pgm")):
        _kind, size, _most, dots = file.read_bytes().split(b"\n", 3)
        width, height = map(int, size.split())
        rows = [dots[n * width : (n + 1) * width] for n in range(height)]
        edge = [*rows[:6], *rows[-6:], *(row[:6] + row[-6:] for row in rows)]
        assert all(min(one) > 250 for one in edge), f"{file.name}: ink at the edge of the paper"
        shares.append(sum(dot < 250 for dot in dots) / len(dots))
    return shares


def what_is_cut(page: str, folder: Path, width_px: int) -> list[list[str]]:
    """Elements wider than their place or out of the page or drawing; words over other words.

    The page forbids scripts; here, and only here, one is let in to measure.
    """
    browser, file = program(*NAMES), folder / "measured.html"
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    file.write_text(page.replace("</body>", f"{_MEASURE}</body>"), encoding="utf-8")
    profile = f"--user-data-dir={folder / 'profile'}"
    size = f"--window-size={width_px},1000"
    told = run(browser, *_QUIET, profile, size, "--dump-dom", str(file))
    found = re.search(r"<body>(.*?)</body>", told, re.DOTALL)
    assert found is not None, told[:500]
    cut: list[list[str]] = json.loads(found[1])
    return cut
