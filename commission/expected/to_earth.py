"""What each conductor of a path should show against earth, nothing running.

On a floating output nothing but insulation and the cable's capacitance holds the conductors against
earth: about half and half when sound, nothing and all when one is down. An earthed output holds its
second conductor there.
"""

from __future__ import annotations

from typing import Final, Literal

from commission.electrical.earth_faults import solve_with_earth
from commission.electrical.sources import JUDGEMENT, citation
from commission.electrical.uncertainty import Budget, Contribution
from commission.expected.inputs import Drawing
from commission.expected.limits import limit
from commission.expected.model import on_test_day
from commission.expected.values import Expectation, Input
from commission.expected.voltages import LAWS, output_voltage

SHARE_ERROR = 0.25  # how unevenly sound cable and a meter share the voltage (judgement)
EARTHED_PART = 0.05  # of the output's voltage, that an earthed conductor may be off (judgement)

_SOURCE = f"{LAWS}; {citation(JUDGEMENT)}"

Conductor = Literal["first", "second"]
CONDUCTORS: Final[tuple[Conductor, ...]] = ("first", "second")


def volts_to_earth(
    drawing: Drawing, path: str, conductor: Conductor, mains_v: float | None
) -> Expectation:
    """Voltage of one conductor against earth at the terminals, in V."""
    output = drawing.outputs[drawing.path_of[path].output]
    between = output_voltage(drawing, output.id, mains_v)
    name = f"{conductor}-volts-to-earth"
    how = Input("earthing of the output", output.earthing, "site file")
    inputs = (Input("output voltage", f"{between.value:.2f} V", "its own expectation"), how)
    if output.earthing == "floating":
        return _floating(name, between, inputs)
    earthing_ohm = output.earthing_impedance_ohm or 0.0
    network = on_test_day(drawing, output.id, mains_v).network
    found = solve_with_earth(network, earthing_ohm=earthing_ohm)
    if conductor == "first":
        part = abs(found.first_v[0]) / between.value
        return _scaled(
            between, name, part, inputs, f"{between.conditions}; the second conductor is earthed",
            "a leak of this conductor, or the earthing of the output open",
            "the conductors are changed over, or mains high",
        )  # fmt: skip
    return limit(
        name, "voltage", "maximum", abs(found.second_v[0]) + EARTHED_PART * between.value,
        f"{between.conditions}; this conductor is earthed", _SOURCE, inputs,
        "the earthing of the output open, the conductors changed over, or the other one leaks",
    )  # fmt: skip


def _floating(name: str, between: Expectation, inputs: tuple[Input, ...]) -> Expectation:
    """Half of the output's voltage, as unevenly as sound cable and a meter may share it."""
    uneven = Contribution(
        f"how cable and meter share it, ±{SHARE_ERROR * 100:g} % of all (judgement)",
        SHARE_ERROR * between.value,
    )
    return _scaled(
        between, name, 0.5, inputs,
        f"{between.conditions}; the output floats; a leak of many kilohms may stay unseen",
        "this conductor leaks to earth, the more the nearer to nothing",
        "the other conductor leaks to earth, the more the nearer to all",
        (uneven,),
    )  # fmt: skip


def _scaled(
    between: Expectation,
    name: str,
    part: float,
    inputs: tuple[Input, ...],
    conditions: str,
    what_below: str,
    what_above: str,
    more: tuple[Contribution, ...] = (),
) -> Expectation:
    """A part of the output's voltage, with that part of its causes and what else moves it."""
    own = (Contribution(one.cause, part * one.effect, one.distribution) for one in between.budget)
    value, causes = part * between.value, tuple(sorted((*own, *more), key=lambda one: -one.u))
    budget = Budget(value, causes)
    low, high = budget.expanded()
    return Expectation(
        name, "voltage", "interval", value, max(0.0, low), high, budget.u, conditions,
        "V = share of the conductor x output voltage", inputs,
        _SOURCE, causes, what_below, what_above,
    )  # fmt: skip
