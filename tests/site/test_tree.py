"""Laws of trees: whatever the branching, routes, ends, order and distances agree."""

from __future__ import annotations

import random
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from commission.site.schema import ROOT, Path, Segment
from commission.site.tree import PathTree, build_tree


@st.composite
def paths(draw: st.DrawFn, most: int = 40) -> Path:
    """A path of random branching, its segments in random order."""
    count = draw(st.integers(1, most))
    names = [ROOT, *(f"B{number}" for number in range(1, count + 1))]
    segments = [
        Segment(
            from_box=names[draw(st.integers(0, number - 1))],
            to_box=names[number],
            length_m=draw(st.floats(0.1, 2000.0)),
        )
        for number in range(1, count + 1)
    ]
    return Path(
        id="A", output="1", cable=("c", "c"), segment=tuple(draw(st.permutations(segments)))
    )


def tree_of(*segments: tuple[str, str, float]) -> PathTree:
    made = tuple(Segment(from_box=one, to_box=to, length_m=long) for one, to, long in segments)
    return build_tree(Path(id="A", output="1", cable=("c", "c"), segment=made))


def test_an_example_in_the_head() -> None:
    tree = tree_of((ROOT, "B1", 10), ("B1", "B2", 20), ("B2", "B3", 30), ("B1", "B4", 5))
    assert tree.boxes == (ROOT, "B1", "B2", "B3", "B4")
    assert tree.ends() == ("B3", "B4")
    assert [segment.to_box for segment in tree.route("B3")] == ["B1", "B2", "B3"]
    assert tree.route(ROOT) == ()
    assert tree.distance_m("B3") == 60
    assert tree.distance_m("B4") == 15
    assert tree.children["B1"] == ("B2", "B4")
    assert tree.branched
    assert not tree_of((ROOT, "B1", 10), ("B1", "B2", 20)).branched


def test_two_cables_from_the_terminals_are_a_branch() -> None:
    tree = tree_of((ROOT, "B1", 10), (ROOT, "B2", 20))
    assert tree.branched
    assert tree.ends() == ("B1", "B2")


@given(paths())
def test_every_box_is_walked_once_and_after_the_one_that_feeds_it(path: Path) -> None:
    tree = build_tree(path)
    assert tree.boxes[0] == ROOT
    assert sorted(tree.boxes[1:]) == sorted(segment.to_box for segment in path.segment)
    place = {box: number for number, box in enumerate(tree.boxes)}
    assert all(place[one.from_box] < place[one.to_box] for one in path.segment)


@given(paths())
def test_a_branch_is_walked_to_its_end_before_the_next(path: Path) -> None:
    """What hangs below a box stands together right behind it."""
    tree = build_tree(path)
    size = dict.fromkeys(tree.boxes, 1)
    for box in reversed(tree.boxes[1:]):
        size[tree.feeds[box].from_box] += size[box]
    for number, box in enumerate(tree.boxes):
        for inner in tree.boxes[number + 1 : number + size[box]]:
            assert box == ROOT or box in {one.to_box for one in tree.route(inner)}


@given(paths())
def test_routes_begin_at_the_terminals_and_hang_together(path: Path) -> None:
    tree = build_tree(path)
    for box in tree.boxes[1:]:
        route = tree.route(box)
        assert route[0].from_box == ROOT
        assert route[-1].to_box == box
        assert all(a.to_box == b.from_box for a, b in pairwise(route))
        assert abs(tree.distance_m(box) - sum(one.length_m for one in route)) < 1e-6


@given(paths())
def test_ends_feed_nothing_and_every_segment_leads_to_an_end(path: Path) -> None:
    tree = build_tree(path)
    ends = set(tree.ends())
    assert ends == {box for box in tree.boxes if not tree.children[box]}
    assert ends.isdisjoint(segment.from_box for segment in path.segment)
    led = {segment.to_box for end in ends for segment in tree.route(end)}
    assert led == set(tree.boxes) - {ROOT}


@settings(max_examples=20)
@given(paths(), st.randoms())
def test_the_order_of_the_file_changes_no_distance(path: Path, chance: random.Random) -> None:
    other = list(path.segment)
    chance.shuffle(other)
    one = build_tree(path)
    two = build_tree(Path(id="A", output="1", cable=("c", "c"), segment=tuple(other)))
    assert one.distances_m == two.distances_m
    assert set(one.ends()) == set(two.ends())


def test_ten_thousand_boxes_in_a_row_and_in_a_star() -> None:
    names = [ROOT, *(f"B{number}" for number in range(1, 10_001))]
    row = tree_of(*((a, b, 1.0) for a, b in pairwise(names)))
    assert row.ends() == ("B10000",)
    assert row.distance_m("B10000") == 10_000
    assert len(row.route("B10000")) == 10_000
    star = tree_of(*((ROOT, name, 1.0) for name in names[1:]))
    assert star.ends() == tuple(names[1:])
    assert star.boxes == tuple(names)
