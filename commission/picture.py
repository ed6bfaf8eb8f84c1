"""A path as a drawn tree: one line for each box, with cable, stations and what was found there.

The longest way goes straight down in one column; what branches off is drawn before it, one step to
the right. So a path of sixty boxes in a row stays as narrow as one of three.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from commission.job import Job, Status
from commission.site.schema import ROOT
from commission.site.tree import PathTree
from commission.units import length_words
from commission.verdict.judge import FAIL, MARGINAL, MARKS, NOT_TESTED, PASS

OPEN = "open"
_WORST_FIRST = (FAIL, MARGINAL, OPEN, NOT_TESTED, PASS)


@dataclass(frozen=True, slots=True)
class Found:
    """Something at a box with what was found of it: a station, or the loop of an end."""

    words: str
    verdict: str  # "open" while something is still to be done


@dataclass(frozen=True, slots=True)
class BoxRow:
    """One line of the picture.

    `branch` is what is drawn left of the box; `hidden` counts the boxes folded away below it.
    """

    box: str
    branch: str
    length: str
    cable: str
    verdict: str
    stations: tuple[Found, ...]
    end: Found | None
    hidden: int = 0

    @property
    def mark(self) -> str:
        """One character for the state of the box with all that is in it; a dot while it is open."""
        return MARKS.get(self.verdict, "·")


def path_picture(job: Job, path: str, folded: Collection[str] = ()) -> tuple[BoxRow, ...]:
    """The boxes of a path from the terminals on; below a folded box nothing is drawn."""
    tree, steps = job.sheet.drawing.trees[path], _by_place(job, path)
    return tuple(
        _row(job, tree, line.box, line.branch, line.hidden, steps)
        for line in tree_lines(tree, folded)
    )


@dataclass(frozen=True, slots=True)
class TreeLine:
    """A box in a drawn tree: what stands left of it, and left of what is written under it."""

    box: str
    branch: str
    below: str
    hidden: int  # boxes folded away below it


def tree_lines(tree: PathTree, folded: Collection[str] = ()) -> Iterator[TreeLine]:
    """The boxes of a path as they are drawn, the terminals first."""
    farthest = _farthest(tree)
    waiting = [(ROOT, "", "")]  # a box, what is drawn left of it, and left of what follows below
    while waiting:
        box, branch, below = waiting.pop()
        hidden = _boxes_below(tree, box) if box in folded else 0
        yield TreeLine(box, branch, below, hidden)
        if hidden or not tree.children[box]:
            continue
        *aside, main = sorted(tree.children[box], key=lambda child: farthest[child])
        waiting.append((main, below, below))
        waiting += [(child, f"{below}├─", f"{below}│ ") for child in reversed(aside)]


Places = Mapping[tuple[str, str], Sequence[Status]]  # scope and place to its steps


def _by_place(job: Job, path: str) -> Places:
    """The steps of a path, its ends, boxes and stations."""
    found: dict[tuple[str, str], list[Status]] = defaultdict(list)
    for status in job.statuses.values():
        target = status.step.target
        if target.path == path:
            place = target.station if target.scope == "station" else target.box
            found[target.scope, place].append(status)
    return found


def _farthest(tree: PathTree) -> dict[str, float]:
    """Distance of the farthest end that each box leads to."""
    found: dict[str, float] = {}
    for box in reversed(tree.boxes):
        found[box] = max(
            (found[child] for child in tree.children[box]), default=tree.distances_m[box]
        )
    return found


def _boxes_below(tree: PathTree, box: str) -> int:
    count, waiting = 0, [*tree.children[box]]
    while waiting:
        count += 1
        waiting += tree.children[waiting.pop()]
    return count


def _row(job: Job, tree: PathTree, box: str, branch: str, hidden: int, steps: Places) -> BoxRow:
    if box == ROOT:
        words = f"terminals of output {job.sheet.drawing.path_of[tree.path].output}"
        return BoxRow(words, "", "", "", _state(steps.get(("path", ""), ())), (), None, hidden)
    segment = tree.feeds[box]
    stretch = job.sheet.drawing.stretch(tree.path, segment)
    stations = tuple(
        Found(str(station.number), _state(steps.get(("station", station.id), ())))
        for station in job.sheet.drawing.stations_on(tree.path)
        if station.box == box
    )
    is_end = not tree.children[box]
    end = Found("end", _state(steps.get(("end", box), ()))) if is_end else None
    there = [_state(steps.get(("box", box), ())), *(one.verdict for one in stations)]
    return BoxRow(
        box=box,
        branch=branch,
        length=length_words(segment.length_m, job.site.site.units),
        cable=" / ".join(dict.fromkeys(stretch.kinds)),
        verdict=_worst([*there, end.verdict] if end else there),
        stations=stations,
        end=end,
        hidden=hidden,
    )


def _state(steps: Iterable[Status]) -> str:
    """The worst that was found at some steps; "open" while one that is required is not done."""
    found = []
    for status in steps:
        if status.state == "answered":
            found.append(status.verdict if status.verdict in (FAIL, MARGINAL) else PASS)
        elif status.step.item.required and status.state != "not applicable":
            found.append(OPEN if status.state == "open" else NOT_TESTED)
    return _worst(found)


def _worst(verdicts: Iterable[str]) -> str:
    """The worst of some verdicts; "" where nothing is asked."""
    there = set(verdicts)
    return next((verdict for verdict in _WORST_FIRST if verdict in there), "")
