"""A signed report for paper: the owner's page in plain words, then the technical pages.

Pure: made from the report as it was read, its review, and the job made again from it. What must
not be missed (practice, an invented site, doubts of the review) stands on every sheet of paper.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from commission.job import Job
from commission.printing import svg
from commission.printing.owner_page import owner_page
from commission.printing.page import Html, element, framed, page, text
from commission.printing.technical_pages import technical_pages
from commission.report.finding import (
    ANOTHER_SEEN,
    ANOTHER_VERSION,
    CHANGED_KEY,
    CUT,
    KINDS,
    REFUSED,
    SAME_KEY,
)
from commission.report.review import Review

DOUBTS: Final = (CUT, ANOTHER_SEEN, CHANGED_KEY, SAME_KEY, REFUSED, ANOTHER_VERSION)
STYLE: Final = f"""{svg.STYLE}\
h2 {{ margin-top: 7pt; break-after: avoid; }}
table {{ margin: 2pt 0; }}
th {{ font-size: 7.5pt; }}
ul {{ margin: 2pt 0; padding-left: 14pt; }}
.caution {{ font-weight: bold; }}
.drawn {{ break-after: avoid; }}
.together {{ break-inside: avoid; }}
.square {{ width: 42mm; }}
.digest {{ font: 9pt monospace; overflow-wrap: anywhere; }}
.room {{ height: 9mm; }}
.box {{ width: 16%; }} .where {{ width: 62%; }} .stations {{ width: 22%; }}
.kind {{ width: 20%; }} .words {{ width: 80%; }}
.what {{ width: 26%; }} .range {{ width: 22%; }} .read {{ width: 13%; }} .verdict {{ width: 11%; }}
.finding {{ width: 28%; }}
.number {{ width: 8%; }} .narrow {{ width: 10%; }} .noted {{ width: 40%; }} .sha {{ width: 34%; }}
.signoff {{ width: 14%; }}
.seen {{ width: 25%; }} .look {{ width: 75%; }}
"""


def handover_sheet(report: Mapping[str, Any], review: Review, job: Job) -> str:
    """The whole file, HTML."""
    inside = [
        element("section", framed(_head(report, review), owner_page(report, review))),
        element("section", framed(_head(report, review), technical_pages(report, review, job))),
    ]
    return page(f"Report: {review.site}", inside, STYLE)


def _head(report: Mapping[str, Any], review: Review) -> Iterator[Html]:
    """What stands above every sheet of paper."""
    words = f"{review.site}: report {review.report}; {review.standing}"
    yield element("div", text(words))
    if "practice" in report:
        yield element("div", text(report["practice"]), kind="large")
    elif report["site"].get("invented"):
        yield element("div", text("PRACTICE: an invented site"), kind="large")
    for kind in DOUBTS:
        if review.of(kind):
            yield element("div", text(f"{kind.upper()}: {KINDS[kind]}"), kind="large")
