"""The benchmark in small: forty-two hidden faults of all kinds."""

from __future__ import annotations

from tests.bench_locate import mean, share_right, singles


def test_hidden_faults_are_found_with_fewer_boxes_than_by_bisection() -> None:
    searches, boxes = singles(seed=40, each=6)
    assert len(searches) == 42
    assert share_right(searches) >= 0.9  # goal 95 % of a thousand
    rows = [row for kind in boxes.values() for row in kind]
    assert mean([row[0] for row in rows]) <= 0.75 * mean([row[1] for row in rows])
    assert mean([row[1] for row in rows]) < mean([row[2] for row in rows])
