"""The frame of everything that is printed: one HTML file, no script, nothing from outside.

Text becomes `Html` only through `text`, which escapes it; so nothing from a file is ever markup.
The size of the paper is whatever the printer holds, A4 or Letter.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from typing import Final, NewType

from commission.text import visible

Html = NewType("Html", str)

_NO_LIMIT: Final = 1_000_000
_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'"  # asks for nothing, runs nothing
STYLE: Final = """\
@page { margin: 12mm 10mm 14mm; @bottom-right { content: counter(page) " of " counter(pages);
  font: 7.5pt sans-serif; } }
html { color: #000; background: #fff; font: 9pt/1.3 sans-serif; }
body { margin: 0 auto; max-width: 60em; }
h1 { font-size: 13pt; margin: 0 0 2pt; }
h2 { font-size: 11pt; margin: 0; }
p { margin: 2pt 0; }
section + section { break-before: page; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { border: 0.4pt solid #666; padding: 1.5pt 3pt; text-align: left; vertical-align: top;
  overflow-wrap: anywhere; }
th { font-weight: bold; }
.frame { table-layout: fixed; }
.frame > tbody > tr { break-inside: auto; }
.frame > * > tr > td { border: none; padding: 0; }
.frame > thead > tr > td::after { content: ""; display: block; border-bottom: 0.8pt solid #000;
  margin: 2pt 0 4pt; }
.large { font-size: 11pt; font-weight: bold; border: 1.6pt solid #000; padding: 2pt 4pt; }
small { font-size: 7.5pt; }
@media screen { body { padding: 1em; } section + section { margin-top: 3em; } }
"""


def text(words: str) -> Html:
    """Words as they are: no markup in them, and what cannot be seen as its code point."""
    return Html(html.escape(visible(words, _NO_LIMIT), quote=True))


def element(name: str, *inside: Html, kind: str = "", across: int = 1) -> Html:
    """An element around others; `kind` is its class, `across` how many columns a cell takes."""
    attributes = f' class="{html.escape(kind)}"' if kind else ""
    attributes += f' colspan="{across}"' if across > 1 else ""
    return Html(f"<{name}{attributes}>{''.join(inside)}</{name}>")


def columns(kinds: Iterable[str]) -> Html:
    """The columns of a table by their classes, which give them their widths."""
    inside = "".join(f'<col class="{html.escape(kind)}">' for kind in kinds)
    return Html(f"<colgroup>{inside}</colgroup>")


def table(heads: Sequence[str], rows: Iterable[Sequence[Html]], kinds: Sequence[str] = ()) -> Html:
    """A table whose head is repeated on every page; `kinds` are the classes of its columns."""
    head = element("thead", element("tr", *(element("th", text(words)) for words in heads)))
    body = [element("tr", *(element("td", cell) for cell in row)) for row in rows]
    return element("table", *([columns(kinds)] if kinds else []), head, element("tbody", *body))


def framed(head: Iterable[Html], inside: Iterable[Html]) -> Html:
    """Content below a head that every sheet of paper repeats."""
    return element(
        "table",
        element("thead", element("tr", element("td", *head))),
        element("tbody", element("tr", element("td", *inside))),
        kind="frame",
    )


def page(title: str, inside: Iterable[Html], style: str = "") -> str:
    """A whole file; `style` adds to the common one."""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
            '<meta name="viewport" content="width=device-width">',
            '<meta name="color-scheme" content="light">',
            f"<title>{text(title)}</title>",
            f"<style>\n{STYLE}{style}</style>",
            "</head>",
            "<body>",
            *inside,
            "</body>",
            "</html>",
            "",
        ]
    )
