"""From symptom to cause: the table of the trade (common practice, no source)."""

from __future__ import annotations

import pytest

from commission.verdict.diagnose import SOUND, likely_cause


@pytest.mark.parametrize(
    ("indicator", "valve", "words"),
    [
        ("pass", "pass", "sound"),
        ("pass", "fail", "solenoid, valve"),
        ("fail", "fail", "decoder dead, its address wrong"),
        ("fail", "pass", "indicator or observer"),
    ],
)
def test_indicator_and_valve_together_point_to_a_cause(
    indicator: str, valve: str, words: str
) -> None:
    assert likely_cause({"indicator": indicator, "valve": valve}).startswith(words)


@pytest.mark.parametrize("sign", ["others", "current", "closing", "idle"])
def test_a_station_with_a_failing_sign_is_never_sound(sign: str) -> None:
    signs = {"indicator": "pass", "valve": "pass", sign: "pass"}
    assert likely_cause(signs) == SOUND
    assert SOUND not in likely_cause(signs | {sign: "fail"})


@pytest.mark.parametrize("signs", [{}, {"indicator": "pass"}, {"valve": "fail"}])
def test_half_of_the_signs_say_too_little(signs: dict[str, str]) -> None:
    assert likely_cause(signs) == ""
