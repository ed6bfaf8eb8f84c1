"""The ids of the steps on a blank sheet, told from it as somebody does who enters what is on it."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.printing.html_read import Element

NOT_ASKED = "–"


@dataclass
class Ids:
    """Ids in the order of the page; `later` are those told once for many rows."""

    listed: list[str] = field(default_factory=list)
    later: set[str] = field(default_factory=set)


def step_ids(root: Element) -> Ids:
    """Of a row its own id; in a table of places the row's, a slash and the column's."""
    found, rows = Ids(), list[str]()
    for one in root.all():
        kinds = str(one.attributes.get("class")).split()
        if one.name == "table" and "steps" in kinds:
            found.listed += [cell.text for cell in one.all("div", "id")]
        elif one.name == "table" and "places" in kinds:
            rows = []
            for front, cells in cells_of(one).items():
                rows.append(front)
                found.listed += [f"{front}/{item}" for item in cells]
        elif one.name == "span" and "id" in kinds:
            front, _, item = one.text.strip().rpartition("/")
            found.later |= {f"{row}/{item}" for row in (rows if front == "ROW" else [front])}
    return found


def cells_of(table: Element) -> dict[str, dict[str, Element]]:
    """A table of places: the cells that are asked, by the ids of row and column."""
    heads = table.all("thead")[0].all("th")
    columns = {
        place: ids[0].text for place, head in enumerate(heads) if (ids := head.all("div", "id"))
    }
    found = {}
    for row in table.all("tbody")[0].all("tr"):
        cells = row.all("td")
        (front,) = cells[0].all("div", "id")
        asked = {item: cells[place] for place, item in columns.items()}
        found[front.text] = {k: cell for k, cell in asked.items() if cell.text != NOT_ASKED}
    return found
