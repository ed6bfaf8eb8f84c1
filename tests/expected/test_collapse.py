"""Standby that no cable can carry: said by every way in, and never reckoned past zero volts.

By Ohm's law in the head: 200 decoders of 3 mA along 60,000 ft of 14 AWG. 0.6 A enter the path and
their mean travels half of it: 0.6 A x 300 ohm / 2 is 90 V, of 26.9 V that there are.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.authoring.draft import Kinds, usual_supply
from commission.authoring.evenly import Answers, drawn_evenly
from commission.authoring.writing import site_text
from commission.cli import main
from commission.electrical.network import CollapseError
from commission.expected.model import on_test_day, working_case
from commission.expected.sheet import Sheet
from commission.expected.sizing import sizings
from commission.site.load import parse_site


def far(spacing: str) -> str:
    answers = Answers("Far", "US", usual_supply("US"), (1,), "14 AWG", (200,), spacing, 1)
    return site_text(drawn_evenly(answers, Kinds()))


def test_a_fixed_current_does_not_turn_the_voltage_over() -> None:
    drawing = Sheet(parse_site(far("300 ft").encode(), "far.toml")).drawing
    for output in drawing.outputs:
        for model in (working_case(drawing, output), on_test_day(drawing, output, None)):
            with pytest.raises(CollapseError, match="idle decoders alone"):
                model.worst_set()
        (found,) = sizings(drawing)
        assert not found.passes
        assert found.ratio_before == 0


@pytest.mark.parametrize("command", ["check", "expect", "size"])
def test_it_is_said_in_words(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = tmp_path / "far.toml"
    site.write_text(far("300 ft"), encoding="utf-8")
    assert main([command, str(site)]) in (1, 2)
    out, err = capsys.readouterr()
    assert "idle decoders alone leave no voltage" in out + err or command == "size"
    assert "FAILS" in out or command != "size"
    assert "Traceback" not in out + err


def test_a_shorter_one_is_computed() -> None:
    drawing = Sheet(parse_site(far("20 ft").encode(), "near.toml")).drawing
    assert all(v.real > 0 for v in working_case(drawing, "1").solve((), "holding").node_v)
