"""Large letters: every one its own shape, as large as the place, never another number."""

from __future__ import annotations

from itertools import combinations

import pytest

from commission.tui.widgets.big import big

LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZx+-?<>.,:/"


def dots(letter: str) -> list[str]:
    """A letter as rows of the same length."""
    return [row.ljust(5) for row in big(letter, 5, 5).split("\n")]


def test_no_two_letters_look_alike() -> None:
    for one, other in combinations(LETTERS, 2):
        assert dots(one) != dots(other), f"{one} and {other}"


@pytest.mark.parametrize(
    ("width", "height", "lines", "dot"),
    [(200, 40, 15, 6), (80, 12, 10, 4), (60, 5, 5, 2), (20, 5, 5, 1)],
)
def test_as_large_as_the_place(width: int, height: int, lines: int, dot: int) -> None:
    drawn = big("1.2", width, height).split("\n")
    assert len(drawn) == lines
    assert max(map(len, drawn)) <= width
    assert drawn[-1].lstrip().startswith("█" * 3 * dot)


@pytest.mark.parametrize("text", ["", "0.4 m", "Ω", "12345678901234567890", "[red]"])
def test_what_does_not_fit_or_is_not_known_stays_as_it_is(text: str) -> None:
    assert big(text, 40, 5) == text
