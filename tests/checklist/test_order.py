"""The safety order: a table of cases, and a search for a way round it.

The order itself (isolate, prove dead, bridge off, read again, people clear, then switch on) is
common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.checklist.order import (
    Answered,
    SupplyState,
    reasons_against,
    supply_state,
    to_do_again,
)
from commission.checklist.plan import Plan, applies
from tests.checklist.sites import NAMES, checklist, plan_of

ISOLATE, ON = "controller/isolate", "controller/supply-on"
BRIDGE_ON, BRIDGE_OFF = "path/A/end/B2/bridge-on", "path/A/end/B2/bridge-off"
LOOP = "path/A/end/B2/loop-resistance"
AGAIN, BACK = "path/A/unbridged-again", "path/A/put-back"
CLEAR = "controller/people-clear"
RECONNECTED, CONTINUITY = "controller/earth-reconnected", "controller/earth-continuity"
PLACES = ("between", "first", "second")
DEAD = tuple(f"path/A/dead-{kind}-{place}" for kind in ("ac", "dc") for place in PLACES)
INSULATION, ENDED = "path/B/insulation-first", "path/B/insulation-ended"


@dataclass
class Written:
    """A record as the safety order sees it, written step by step."""

    plan: Plan
    answered: dict[str, Answered] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)
    number: int = 0

    def answer(self, step_id: str, passing: bool = True, text: str = "") -> None:
        item = self.plan.by_id[step_id].item
        first = item.choice[0].say if item.choice else "yes" if passing else "no"
        self._entry(step_id, passing)
        self.answers[step_id] = text or first

    def set_aside(self, step_id: str, passing: bool = False) -> None:
        """A skip; "not applicable" where it counts as passing."""
        self._entry(step_id, passing)
        self.answers.pop(step_id, None)

    def _entry(self, step_id: str, passing: bool) -> None:
        self.number += 1
        self.answered[step_id] = Answered(self.number, passing)

    def walk(self, but: tuple[str, ...] = (), until: str = ON) -> Written:
        """Answer everything that is asked, in order, before the step `until`."""
        for step in self.plan.steps:
            if step.id == until:
                break
            if step.id not in but and applies(step, self.answers):
                self.answer(step.id)
        return self

    def against(self, step_id: str) -> tuple[str, ...]:
        return reasons_against(self.plan, self.plan.by_id[step_id], self.answered, self.answers)

    def again(self) -> dict[str, str]:
        return to_do_again(self.plan, self.answered, self.answers)

    @property
    def supply(self) -> SupplyState:
        return supply_state(self.plan, self.answered, self.answers)


def fresh() -> Written:
    return Written(plan_of())


def ready() -> Written:
    return fresh().walk()


@pytest.mark.parametrize("name", NAMES)
def test_after_everything_before_it_the_supply_may_be_switched_on(name: str) -> None:
    record = Written(plan_of(checklist(name))).walk()
    assert record.against(ON) == ()
    record.answer(ON)
    assert record.supply == "on"


# What is left out or happens after a complete walk, and the words that must be in the reasons.
Act = Callable[[Written], None]
CASES: dict[str, tuple[tuple[str, ...], tuple[Act, ...], tuple[str, ...]]] = {
    "bridge not recorded removed": (
        (BRIDGE_OFF,), (), ("Path A, end B2: Bridge removed: not done",),
    ),
    "unbridged reading after it missing": (
        (AGAIN,), (), ("Path A (north): Unbridged reading again: not done",),
    ),
    "unbridged reading after it failed": (
        (), (lambda r: r.answer(AGAIN, passing=False),), ("again: did not pass", BACK),
    ),
    "bridge put on again": (
        (), (lambda r: r.answer(BRIDGE_ON),), (BRIDGE_OFF, AGAIN, BACK, CLEAR),
    ),
    "loop read again": ((), (lambda r: r.answer(LOOP),), (BRIDGE_OFF, AGAIN, BACK)),
    "bridge removed after the reading that looks for it": (
        (), (lambda r: r.answer(BRIDGE_OFF),), (AGAIN, CLEAR),
    ),
    "earth not reconnected": ((RECONNECTED,), (), ("Electrode connected: not done",)),
    "earth disconnected again": (
        (), (lambda r: r.answer("controller/electrode-off"),), (RECONNECTED, CONTINUITY, CLEAR),
    ),
    "earthing conductor not measured": (
        (CONTINUITY,), (), ("Earthing conductor continuous: not done",),
    ),
    "insulation test not ended": ((ENDED,), (), ("Path B: Insulation test ended: not done",)),
    "insulation test begun again": ((), (lambda r: r.answer(INSULATION),), (ENDED,)),
    "conductors not put back": ((BACK,), (), ("Conductors put back: not done",)),
    "a person not reported clear": ((CLEAR,), (), ("Everyone reported clear: not done",)),
    "a person said not to be clear": (
        (), (lambda r: r.answer(CLEAR, passing=False),), ("reported clear: did not pass",),
    ),
    "a skip makes nothing safe": (
        (), (lambda r: r.set_aside(BRIDGE_OFF),), ("Bridge removed: set aside",),
    ),
    "not applicable makes nothing safe": (
        (), (lambda r: r.set_aside(BRIDGE_OFF, passing=True),), ("Bridge removed: set aside",),
    ),
    "isolated again": (
        (), (lambda r: r.answer(ISOLATE),), (BRIDGE_OFF, AGAIN, RECONNECTED, ENDED, CLEAR),
    ),
    "switched on, then isolated": (
        (), (lambda r: r.answer(ON), lambda r: r.answer(ISOLATE)), (BRIDGE_OFF, CLEAR),
    ),
    "never isolated": ((ISOLATE,), (), ("not recorded isolated",)),
    "isolation skipped": ((ISOLATE,), (lambda r: r.set_aside(ISOLATE),), ("not recorded",)),
    "isolation failed": (
        (), (lambda r: r.answer(ISOLATE, passing=False),), ("not recorded isolated",),
    ),
    "hold point not whole": (
        ("path/B/release",), (), ("Path B", "Cable released for splicing (not done)"),
    ),
    "release denied": (
        (), (lambda r: r.answer("path/B/release", passing=False),),
        ("Cable released for splicing (did not pass)",),
    ),
    "insulation of new cable failed": (
        (), (lambda r: r.answer(INSULATION, passing=False),), ("earth (did not pass)",),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_switching_on_is_refused_with_reasons(case: str) -> None:
    left_out, then, wanted = CASES[case]
    record = fresh().walk(but=left_out)
    for act in then:
        act(record)
    reasons = record.against(ON)
    for words in wanted:
        step = record.plan.by_id.get(words)
        words = f"{step.target.label}: {step.title}" if step else words
        assert any(words in reason for reason in reasons), (words, reasons)


def test_only_what_is_stale_is_asked_for_again() -> None:
    record = ready()
    record.answer(INSULATION)
    record.answer(ENDED)
    record.answer(CLEAR)
    assert record.against(ON) == ()
    record.answer(BRIDGE_ON)
    assert not any("end B3" in reason or "Path B" in reason for reason in record.against(ON))


def test_everything_done_again_clears_again() -> None:
    record = ready()
    record.answer(ON)
    record.answer(ISOLATE)
    for step in record.plan.steps:
        if step.id in record.again():
            assert record.against(step.id) == () or step.id == ON
            record.answer(step.id)
    assert record.against(ON) == ()
    assert set(record.again()) == set()


def test_what_counts_no_more_is_told_once_the_supply_is_isolated() -> None:
    record = ready()
    assert record.again() == {}
    record.answer(ON)
    assert record.again() == {}
    record.answer(ISOLATE)
    again = record.again()
    assert {BRIDGE_OFF, AGAIN, BACK, CLEAR, RECONNECTED, ENDED, ON, *DEAD} <= set(again)
    assert LOOP not in again
    assert all("again" in why or "isolated after it" in why for why in again.values())


def test_no_ohms_on_a_path_that_was_live_since_it_was_proved_dead() -> None:
    record = ready()
    assert record.against(LOOP) == ()
    record.answer(ON)
    assert "must be isolated" in record.against(LOOP)[0]
    record.answer(ISOLATE)
    (reason,) = record.against(LOOP)
    assert "the supply was on since" in reason
    for proof in DEAD:
        assert record.against(proof) == ()
        record.answer(proof)
    assert record.against(LOOP) == ()


def test_without_an_isolation_the_other_reasons_are_told_too() -> None:
    reasons = fresh().walk(but=(ISOLATE, BRIDGE_OFF)).against(ON)
    assert "not recorded isolated" in reasons[0]
    assert any("Bridge removed: not done" in reason for reason in reasons)


@pytest.mark.parametrize(
    ("acts", "state"),
    [
        ([], "unknown"),
        ([(ISOLATE, True)], "off"),
        ([(ISOLATE, False)], "unknown"),
        ([(ISOLATE, True), (ON, True)], "on"),
        ([(ISOLATE, True), (ON, True), (ISOLATE, True)], "off"),
        ([(ISOLATE, True), (ON, False)], "unknown"),
        ([(ISOLATE, True), (ON, True), (ISOLATE, False)], "unknown"),
    ],
)
def test_the_later_of_the_switching_steps_decides(
    acts: list[tuple[str, bool]], state: SupplyState
) -> None:
    record = fresh()
    for step_id, passing in acts:
        record.answer(step_id, passing)
    assert record.supply == state


def test_setting_aside_neither_switches_on_nor_isolates() -> None:
    record = ready()
    record.set_aside(ON, passing=True)
    assert record.supply == "unknown"
    record.set_aside(ISOLATE, passing=True)
    assert record.supply == "unknown"


def test_a_path_that_is_not_dead_takes_no_ohmmeter() -> None:
    record = fresh()
    record.walk(until=LOOP)
    record.answer("path/A/dead-ac-between", passing=False)
    (live,) = record.against(LOOP)
    assert "not dead" in live
    assert record.against("path/A/dead-ac-between") == ()
    record.answer("path/A/dead-ac-between")
    assert record.against(LOOP) == ()


def test_dead_tests_ask_for_isolation_first() -> None:
    record = fresh()
    assert "not recorded isolated" in record.against(LOOP)[-1]
    assert "Supply isolated, locked off" in record.against(LOOP)[-1]
    record.walk(until="path/A/loop-take-off")
    (proof,) = record.against(LOOP)
    assert proof.startswith("prove Path A")
    assert "Dead: a.c., between" in proof
    record.walk(until=LOOP)
    assert record.against(LOOP) == ()
    record.walk()
    record.answer(ON)
    assert "recorded on" in record.against(LOOP)[0]


def test_live_tests_need_the_supply_on() -> None:
    record = ready()
    assert "must be switched on first" in record.against("station/S1/indicator")[0]
    record.answer(ON)
    assert record.against("station/S1/indicator") == ()
    assert record.against("station/S1/coil") == ()


def test_isolating_is_never_refused() -> None:
    assert fresh().against(ISOLATE) == ()
    record = ready()
    record.answer(ON)
    assert record.against(ISOLATE) == ()


def test_a_hold_point_holds_its_own_path_and_what_is_wider() -> None:
    record = fresh().walk(but=("path/B/release",), until="controller/mounting")
    assert record.against("path/A/cable-type") == ()
    assert "hold point" in record.against("path/B/cable-type")[0]
    assert "hold point" in record.against("station/S4/decoder-serial")[0]
    assert "hold point" in record.against("controller/earth-terminal")[0]
    assert record.against("path/B/insulation-first") == ()
    record.set_aside("path/B/release")
    assert record.against("path/B/cable-type") == ()


def test_a_bridge_that_was_put_on_must_come_off_even_when_its_end_leaves_the_sample() -> None:
    record = Written(plan_of(checklist("inspection"))).walk(but=(BRIDGE_OFF,))
    sampled = "path/A/end/B2/end-sampled"
    record.answer(sampled, text="not in the sample")
    assert not applies(record.plan.by_id[LOOP], record.answers)
    assert applies(record.plan.by_id[BRIDGE_OFF], record.answers)
    assert any("Path A, end B2: Bridge removed" in reason for reason in record.against(ON))


def test_many_reasons_are_cut_short() -> None:
    record = fresh()
    record.answer(ISOLATE)
    reasons = record.against(ON)
    assert len(reasons) == 13
    assert reasons[-1].startswith("and ")


# A search for a way round. What stands below is what happens on site, not what the program knows.


class Ground:
    """The site itself: bridges, electrode, tester, conductors, and who has reported clear."""

    def __init__(self) -> None:
        self.on = False
        self.bridged: set[str] = set()
        self.unread: set[str] = {"A", "B"}  # paths not read since a bridge was on them
        self.off_terminals: set[str] = set()
        self.tester_on: set[str] = set()
        self.electrode_off = False
        self.away = False  # everyone, since the last work and the last isolation

    def work(self, step_id: str) -> None:
        """One step done as its words say."""
        place, _, what = step_id.rpartition("/")
        path = place.split("/")[1] if place.startswith("path/") else ""
        work_at_the_boxes = what in ("bridge-on", "bridge-off", "loop-take-off")
        if work_at_the_boxes or what == "electrode-off":
            self.away = False
        if what == "bridge-on":
            self.bridged.add(place)
            self.unread.add(path)
        elif what == "bridge-off":
            self.bridged.discard(place)
            self.unread.add(path)
        elif what == "unbridged-again" and not any(
            other.startswith(f"path/{path}/") for other in self.bridged
        ):
            self.unread.discard(path)
        elif what == "loop-take-off":
            self.off_terminals.add(path)
        elif what == "put-back":
            self.off_terminals.discard(path)
        elif what.startswith("insulation-") and what != "insulation-ended":
            self.tester_on.add(path)
        elif what == "insulation-ended":
            self.tester_on.discard(path)
        else:
            self._at_the_controller(what)

    def _at_the_controller(self, what: str) -> None:
        if what == "electrode-off":
            self.electrode_off = True
        elif what == "earth-reconnected":
            self.electrode_off = False
        elif what == "people-clear":
            self.away = True
        elif what == "isolate":
            self.on, self.away = False, False
            self.unread = {"A", "B"}
        elif what == "supply-on":
            self.on = True

    @property
    def safe(self) -> bool:
        standing = self.bridged or self.unread or self.off_terminals or self.tester_on
        return not standing and not self.electrode_off and self.away


WATCHED = [
    ISOLATE, ON, CLEAR, RECONNECTED, CONTINUITY, "controller/electrode-off",
    *(f"path/{path}/{item}" for path in "AB" for item in (
        "insulation-between", "insulation-ended", "loop-take-off", "unbridged-again", "put-back")),
    *(f"path/{end}/{item}" for end in ("A/end/B2", "A/end/B3", "B/end/C2")
      for item in ("bridge-on", "bridge-off")),
]  # fmt: skip


HOW = [
    *("answer", "answer", "fail", "skip", "not applicable"),
    *("mend", "mend backwards", "go on", "go on", "bridge stays", "bridge not applicable"),
]


def act(record: Written, ground: Ground, how: str, step_id: str) -> None:
    """One thing that a person does, as far as the program lets it be recorded."""
    if how in ("skip", "not applicable"):
        record.set_aside(step_id, passing=how == "not applicable")
    elif how in ("answer", "fail"):
        if not record.against(step_id):
            record.answer(step_id, passing=how == "answer")
            if how == "answer":
                ground.work(step_id)
    elif how.startswith("bridge"):
        act(record, ground, "answer", BRIDGE_ON)
        act(record, ground, "fail" if how == "bridge stays" else "not applicable", BRIDGE_OFF)
    else:
        for one in clearing_again(record, how):
            act(record, ground, "answer", one)


def clearing_again(record: Written, how: str) -> list[str]:
    """The clearing steps answered once more: all, or all but what was left open."""
    clearing = [step.id for step in record.plan.clearing if applies(step, record.answers)]
    if how == "go on":
        stood = {key for key, entry in record.answered.items() if entry.passing}
        return [one for one in clearing if one in stood and one in record.answers]
    return clearing[::-1] if how == "mend backwards" else clearing


@settings(max_examples=500, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(HOW), st.sampled_from(WATCHED)), max_size=6),
    st.booleans(),
    st.booleans(),
)
def test_no_order_of_answers_switches_on_while_something_stands_open(
    acts: list[tuple[str, str]], on_at_first: bool, goes_on: bool
) -> None:
    record, ground = fresh(), Ground()
    for step in record.plan.steps:
        if step.id == (ON if not on_at_first else "output/1/mains-voltage"):
            break
        if applies(step, record.answers):
            act(record, ground, "answer", step.id)
    assert ground.on == on_at_first
    for how, step_id in [*acts, *[("go on", "")][:goes_on], ("answer", ON)]:
        was_on = record.supply == "on"
        act(record, ground, how, step_id)
        if record.supply == "on" and not was_on:
            assert ground.on
            assert ground.safe
        assert not (ground.on and ground.bridged)
