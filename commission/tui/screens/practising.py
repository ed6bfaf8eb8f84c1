"""What only a practice offers: putting something right in the ground, and the truth at the end."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from commission.tui.screens.form import MenuScreen

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

_MOST = 6  # places named before all of them are
_ELSEWHERE = "somewhere else"
Options = dict[str, tuple[str, Callable[[], None]]]


def practice_options(walk: WalkScreen) -> Options:
    """The lines that a menu has more at a practice; none at any other job."""
    if walk.session.ground is None:
        return {}
    return repair_options(walk) | {
        "truth": ("Show the truth, and end the practice", lambda: _truth(walk))
    }


def repair_options(walk: WalkScreen) -> Options:
    """Putting something right, while a practice is open."""
    if walk.session.ground is None or walk.job.signed:
        return {}
    return {"repair": ("Put something right, then test again", lambda: _where(walk))}


def _where(walk: WalkScreen) -> None:
    """Ask where: among the places that the readings speak for, or all."""
    likely = list(dict.fromkeys(_likely(walk)))[:_MOST]
    if likely:
        _choose_place(walk, likely, [_ELSEWHERE])
    else:
        _anywhere(walk)


def _anywhere(walk: WalkScreen) -> None:
    from commission.practice.repair import places

    _choose_place(walk, list(places(walk.job.site)), [])


def _choose_place(walk: WalkScreen, places: list[str], more: list[str]) -> None:
    def chosen(where: str | None) -> None:
        if where == _ELSEWHERE:
            _anywhere(walk)
        elif where:
            _what(walk, where)
        else:
            walk.entry.focus()

    rows = [(words, words) for words in (*places, *more)]
    about = "Kept as a defect of this step; a retest here that passes closes it."
    walk.app.push_screen(MenuScreen("Where is something put right?", rows, about), chosen)


def _likely(walk: WalkScreen) -> list[str]:
    """The places that the readings so far speak for, the likeliest first."""
    from commission.locate.words import Words
    from commission.search.found import found

    words = Words(walk.job.site)
    ranked = [
        places for answer in found(walk.job) if answer.is_wrong for places, _ in answer.ranked
    ]
    apart = [place for places in ranked for place in sorted(places)]
    single = [("station", name) for p in apart if p[0] == "pair" for name in p[1:]]
    return [words.place(p) for p in (*apart, *single) if p[0] in ("segment", "box", "station")]


def _what(walk: WalkScreen, where: str) -> None:
    """Ask what is done there, and keep it."""
    from commission.practice.repair import PUT_RIGHT, REPAIRS, SEVERITY

    rows = [(words, words) for words in REPAIRS]

    def chosen(what: str | None) -> None:
        if what:
            step = walk.status.step
            walk.session.raise_defect(step, SEVERITY, where, what, PUT_RIGHT)
            walk.refresh_job()
            walk.saved()
            walk.show_step(step.id)
        else:
            walk.entry.focus()

    walk.app.push_screen(MenuScreen(f"What is done at: {where}", rows), chosen)


def _truth(walk: WalkScreen) -> None:
    """What was hidden, beside what was concluded."""
    from commission.tui.screens.fault import truth_screen

    walk.app.push_screen(truth_screen(walk.session))
