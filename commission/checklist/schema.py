"""The checklist file, format 1: stages and items, no code in them.

An item is asked once for each thing it is repeated for (`each`): the job, the controller, every
output, path, path end, box, station, or worst set. A stage may itself be repeated (`each`), so that
all its items are done for path A before path B begins.
"""

from __future__ import annotations

import re
from dataclasses import field
from typing import Annotated, Literal

from commission.shapes import AtLeast, Checked, Text, checked_text, shape
from commission.text import clean
from commission.units import Quantity

KIND = "commission checklist"
FORMAT = 1
YES, NO = "yes", "no"  # the answers of a confirmation

JobKind = Literal["new", "converted", "added", "inspection", "recheck"]
JOB_KIND_WORDS: dict[str, str] = {
    "new": "new installation",
    "converted": "converted cable",
    "added": "added stations",
    "inspection": "inspection",
    "recheck": "periodic recheck",
}
Scope = Literal["job", "controller", "output", "path", "end", "box", "station", "worst-set"]
# What a thing lies in, nearest first.
ENCLOSING: dict[Scope, tuple[Scope, ...]] = {
    "job": (),
    "controller": ("job",),
    "output": ("controller", "job"),
    "worst-set": ("output", "controller", "job"),
    "path": ("output", "controller", "job"),
    "box": ("path", "output", "controller", "job"),
    "end": ("box", "path", "output", "controller", "job"),
    "station": ("box", "path", "output", "controller", "job"),
}
AnswerKind = Literal["confirm", "measure", "observe", "choose", "text"]
Verdict = Literal["pass", "fail", "marginal", "not tested", "not applicable"]
Sign = Literal["address", "indicator", "valve", "others", "current", "closing", "idle"]
Offer = Literal["people", "instrument", "licence", "report", "sample", "additions"]

# What a reading can be compared with: an expectation computed from the site, or a limit of it.
Comparison = Literal[
    "earth-resistance",  # limit: at most earth.limit
    "fall-of-potential",  # the readings at 52 and 72 % with that at 62 %: within 5 % of their mean
    "probe-distance",  # limit: at least five times the largest size of the electrode
    "slope-20",  # readings at 20, 40 and 60 %: what they give together is at most earth.limit
    "slope-40",
    "slope-60",
    "earth-clamp",  # limit: at most earth.limit, the reading being an upper bound
    "earthing-conductor",  # limit: at most earth.conductor_limit
    "insulation",  # limit: at least limits.min_insulation
    "dead-voltage",  # limit: at most limits.max_dead_voltage
    "unbridged-resistance",  # limit: at least limits.min_unbridged
    "leak-resistance",  # limit: at least limits.min_leak, indicative
    "loop-resistance",  # expectation with an interval: the end bridged
    "loop-reversed",  # the same with the leads changed over; the mean counts
    "soil-temperature",  # expectation: what the site file says; later loops use the reading
    "air-temperature",  # recorded; outside 18 to 28 °C it widens what meters may be off
    "mains-voltage",  # limit: at least the lowest mains
    "output-voltage",  # expectation with an interval, at the mains measured
    "standby-current",  # expectation with an interval
    "first-volts-to-earth",  # expectation with an interval, by the output's earthing
    "second-volts-to-earth",  # the same; of an earthed output a limit
    "end-voltage",  # expectation with an interval, nothing running
    "station-current",  # expectation with an interval, one station running
    "station-voltage",  # expectation with an interval, one station running, settled
    "together-voltage",  # expectation with an interval at the worst solenoid, worst set running
    "together-current",  # expectation: current of the output with the worst set running
    "together-output-voltage",  # expectation: terminal voltage with the worst set running
    "closing-time",  # limit: at most limits.max_closing_time
]

# Facts of the site that a condition may name, and what they are true of.
Fact = Literal[
    "job.kind",
    "controller.path_electrodes",
    "controller.surge_arresters",
    "controller.address_check",
    "path.new_cable",
    "path.branched",
    "path.bundle",
    "site.several_paths",
    "site.several_outputs",
    "station.two_solenoids",
    "output.floating",
    "earth.several_rods",
]

_SLUG = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


def _check_slug(text: str) -> str:
    if not _SLUG.fullmatch(text) or len(text) > 40:
        raise ValueError("an item's id is lower-case words joined by '-', at most 40 characters")
    return text


Slug = Annotated[str, checked_text(_check_slug, pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$")]
Words = Annotated[str, checked_text(low=1, high=400)]
Reason = Annotated[str, checked_text(high=400)]


@shape
class Choice:
    """One answer that can be picked, and what it means."""

    say: Annotated[str, checked_text(low=1, high=60)]
    verdict: Literal["pass", "fail", "not applicable"] = "pass"


def _check_wanted(value: object) -> bool | str | tuple[str, ...]:
    if isinstance(value, (bool, str)):
        return value if isinstance(value, bool) else clean(value)
    if isinstance(value, (list, tuple)) and value and all(isinstance(one, str) for one in value):
        return tuple(clean(one) for one in value)
    raise ValueError("must be true, false, the words of a choice, or a list of such words")


Wanted = Annotated[
    bool | str | tuple[str, ...],
    Checked(
        _check_wanted,
        {
            "anyOf": [
                {"type": "boolean"},
                {"type": "string"},
                {"type": "array", "items": {"type": "string"}, "minItems": 1},
            ]
        },
    ),
]


@shape
class Condition:
    """True when a fact of the site, or an earlier answer, is as said; all conditions must hold.

    `is` is true or false for facts and confirmations, else a choice's words or several of them.
    """

    fact: Fact | None = None
    answer: Slug | None = None  # an item earlier in the list, for the same or a wider thing
    equals: Wanted = True  # "is" in the file

    @property
    def wanted(self) -> tuple[str, ...]:
        """The answers that meet it, as they are kept: true is "yes", false is "no"."""
        if isinstance(self.equals, bool):
            return (YES,) if self.equals else (NO,)
        return (self.equals,) if isinstance(self.equals, str) else self.equals


@shape
class Item:
    """One thing to do, repeated over the site.

    `clears` items must stand before the supply is switched on; one goes stale when an item named
    in `reopened_by` is answered after it. `supply` marks the steps that switch the supply on or
    isolate it; `needs` says in which state of the supply a step may be answered.
    """

    id: Slug
    title: Annotated[str, checked_text(low=1, high=40)]  # in the list of steps
    ask: Words  # what to do, in words a cold installer understands
    why: Reason = ""
    answer: AnswerKind
    each: Scope | None = None  # the stage's own when absent
    required: bool = True
    caution: tuple[Slug, ...] = ()
    quantity: Quantity | None = None
    unit: Text = ""  # the unit shown, and meant when none is typed
    unit_us: Text = ""  # instead of it on a site that shows US units
    compare: Comparison | None = None
    choice: tuple[Choice, ...] = ()
    when: tuple[Condition, ...] = ()
    offers: Offer | None = None  # what is known already, shown; of a text or a choice, proposed
    hidden_later: bool = False  # asks for the observer and a photo reference
    supply: Literal["on", "off"] | None = None
    needs: Literal["on", "off", "any"] | None = None  # the stage's own when absent
    clears: bool = False
    reopened_by: tuple[Slug, ...] = ()
    sign: Sign | None = None  # the part it plays in telling from symptom to cause
    bundle: bool = False  # of a path: the survey of its old bundle follows

    @property
    def offered(self) -> tuple[str, ...]:
        """The answers to choose from; none where something is read or typed."""
        if self.answer in ("measure", "text"):
            return ()
        return tuple(one.say for one in self.choice) or (YES, NO)


@shape
class Stage:
    """A part of the work, done as a whole for each thing it is repeated for."""

    id: Slug
    title: Annotated[str, checked_text(low=1, high=32)]
    about: Text = ""
    each: Scope = "job"
    needs: Literal["on", "off"] | None = None  # for its items that say nothing else
    hold_point: bool = False
    item: Annotated[tuple[Item, ...], AtLeast(1)]


@shape
class Checklist:
    """The whole checklist file."""

    kind: Literal["commission checklist"]
    format: Literal[1]
    job: JobKind
    title: Words
    about: Text = ""
    caution: dict[Slug, Words] = field(default_factory=dict)
    stage: Annotated[tuple[Stage, ...], AtLeast(1)]
