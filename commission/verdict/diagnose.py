"""From symptom to likely cause: what a station's answers say together.

The table is common practice of the trade, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping

SOUND = "sound"


def likely_cause(signs: Mapping[str, str]) -> str:
    """Likely cause from the verdicts of a station's signs; "" while they say too little.

    `signs` maps a sign ("indicator", "valve", "others", "current", ...) to "pass" or "fail".
    """
    indicator, valve = signs.get("indicator"), signs.get("valve")
    if signs.get("others") == "fail":
        return "another station answers: addresses swapped or duplicated"
    if signs.get("current") == "fail" and valve == "pass":
        return (
            "if the current is one solenoid too high, a second decoder has the same address; "
            "if too low, a coil is open or the decoder does not switch it"
        )
    if indicator is None or valve is None:
        return ""
    if indicator == valve == "pass" and "fail" in signs.values():
        return ""  # it runs, yet something else of it is not in order
    return {
        ("pass", "pass"): SOUND,
        ("pass", "fail"): "solenoid, valve (bleed, flow control, no water), or the joint between "
        "decoder and solenoid",
        ("fail", "fail"): "decoder dead, its address wrong, or its joint to the path open",
        ("fail", "pass"): "indicator or observer; or another decoder with the same address",
    }.get((indicator, valve), "")


def row_of_dead(dead: Mapping[str, bool]) -> str:
    """What dead stations along one branch say, in the order from the controller.

    `dead` maps station names to whether they are dead; the names come back in the words.
    """
    names = list(dead)
    if len(names) < 2:
        return ""
    if all(dead.values()):
        return "all dead: path, fuse, or output"
    first = next((place for place, name in enumerate(names) if dead[name]), None)
    if first is not None and len(names) - first >= 2 and all(dead[n] for n in names[first:]):
        return f"dead from {names[first]} to the end: the path is open before {names[first]}"
    return ""
