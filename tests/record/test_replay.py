"""What entries amount to: the latest counts, a withdrawn one gives way to the one before."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.record.entry import Entry
from commission.record.replay import State, _Draft, fold, replay, states_before


def _numbered(*entries: Entry) -> tuple[Entry, ...]:
    return tuple(replace(entry, number=n) for n, entry in enumerate(entries, start=1))


def _entry(kind: str, step: str = "s", **fields: Any) -> Entry:
    return Entry(0, kind, step=step, **fields)  # type: ignore[arg-type]


def _withdraw(number: int) -> Entry:
    return _entry("withdrawal", refers_to=number, text="mistyped")


def _opened(**fields: Any) -> Entry:
    return _entry("defect", defect="D1", state="opened", severity="danger", **fields)


CLOSED = _entry("defect", defect="D1", state="closed", text="a retest passed")
DECISION = _entry("note", decision="exception", text="owner agrees", refers_to=1)


def _state(*entries: Entry) -> State:
    return replay(_numbered(*entries))


def test_a_retest_counts_and_the_earlier_answer_stays_in_the_history() -> None:
    state = _state(_entry("answer", text="1"), _entry("skip"), _entry("answer", text="2"))
    assert state.latest["s"].text == "2"
    assert [entry.type for entry in state.history["s"]] == ["answer", "skip", "answer"]


def test_withdrawing_an_answer_makes_the_one_before_it_current_again() -> None:
    state = _state(_entry("answer", text="1"), _entry("answer", text="2"), _withdraw(2))
    assert state.latest["s"].text == "1"
    assert [entry.number for entry in state.history["s"]] == [1, 2, 3]
    assert [state.is_live(entry) for entry in state.history["s"]] == [True, False, True]
    assert "s" not in _state(_entry("answer"), _withdraw(1)).latest


def test_withdrawals_out_of_order_leave_the_latest_live_one() -> None:
    texts = [_entry("answer", text=text) for text in "123"]
    assert _state(*texts, _withdraw(2), _withdraw(3)).latest["s"].text == "1"
    assert _state(*texts, _withdraw(1), _withdraw(3)).latest["s"].text == "2"


def test_a_withdrawal_or_what_comes_later_can_t_be_withdrawn() -> None:
    state = _state(_entry("answer"), _withdraw(1), _withdraw(2), _withdraw(5), _entry("skip"))
    assert state.withdrawn == {1}
    assert state.latest["s"].type == "skip"


def test_notes_and_attachments_belong_to_steps_until_withdrawn() -> None:
    state = _state(_entry("note", text="a"), _entry("note", "t", text="b"), _entry("attachment"))
    assert [note.text for note in state.notes["s"]] == ["a"]
    assert [note.text for note in state.notes["t"]] == ["b"]
    assert [entry.number for entry in state.attachments["s"]] == [3]
    assert "s" not in _state(_entry("note"), _withdraw(1)).notes


def test_a_decision_holds_for_the_result_it_was_made_on() -> None:
    first = _entry("answer", text="1")
    assert _state(first, DECISION).decisions["s"].number == 2
    assert "s" not in _state(first, DECISION, _entry("answer", text="2")).decisions
    back = _state(first, DECISION, _entry("answer", text="2"), _withdraw(3))
    assert back.decisions["s"].number == 2
    assert "s" not in _state(first, DECISION, _withdraw(2)).decisions
    assert "s" not in _state(first, DECISION, _withdraw(1)).decisions
    assert "s" not in _state(first, _entry("answer"), DECISION).decisions
    assert "s" not in _state(first, replace(DECISION, refers_to=None)).decisions


def test_a_defect_is_opened_closed_and_opened_again_by_a_withdrawal() -> None:
    opened = _opened(text="bad joint", where="B7", action="remake")
    defect = _state(opened).defects["D1"]
    assert (defect.state, defect.opened, defect.closed) == ("opened", 1, None)
    assert (defect.severity, defect.where, defect.action) == ("danger", "B7", "remake")
    defect = _state(opened, _entry("answer"), CLOSED).defects["D1"]
    assert (defect.state, defect.text, defect.closed) == ("closed", "bad joint", 3)
    defect = _state(opened, _entry("answer"), CLOSED, _withdraw(3)).defects["D1"]
    assert (defect.state, defect.closed, len(defect.history)) == ("opened", None, 2)


def test_a_withdrawn_defect_keeps_its_number() -> None:
    defects = _state(_opened(text="nothing"), _withdraw(1)).defects
    assert [(defect.id, defect.state) for defect in defects.values()] == [("D1", "withdrawn")]


_STEPS = st.sampled_from(["s", "t", ""])
_ANY = st.one_of(
    st.builds(_entry, st.sampled_from(["answer", "skip", "not-applicable", "change"]), _STEPS),
    st.builds(
        lambda step, number, word: _entry("note", step, refers_to=number, decision=word),
        _STEPS,
        st.none() | st.integers(1, 9),
        st.sampled_from(["", "exception"]),
    ),
    st.builds(
        lambda name, state: _entry("defect", defect=name, state=state),
        st.sampled_from(["D1", "D2"]),
        st.sampled_from(["opened", "closed"]),
    ),
    st.builds(_withdraw, st.integers(1, 12)),
    st.builds(_entry, st.sampled_from(["attachment", "recovery"]), _STEPS),
)


@given(st.lists(_ANY, max_size=14))
def test_one_at_a_time_or_all_at_once_is_the_same(entries: list[Entry]) -> None:
    numbered = _numbered(*entries)
    state = State()
    for count, entry in enumerate(numbered, start=1):
        state = fold(state, entry)
        assert state == replay(numbered[:count])


@given(st.lists(_ANY, max_size=14))
def test_the_latest_is_the_last_live_result_of_each_step(entries: list[Entry]) -> None:
    state = _state(*entries)
    results = ("answer", "skip", "not-applicable")
    live = [e for e in state.entries if e.type in results and e.number not in state.withdrawn]
    assert dict(state.latest) == {entry.step: entry for entry in live}


def test_an_earlier_state_is_not_changed_by_a_later_fold() -> None:
    before = _state(_entry("answer", text="1"), _opened())
    fold(before, replace(_entry("answer", text="2"), number=3))
    fold(before, replace(_withdraw(2), number=3))
    assert before == _state(_entry("answer", text="1"), _opened())


def test_ten_thousand_entries_of_one_step_fold_to_the_last() -> None:
    entries = [_entry("answer", text=str(n)) for n in range(5_000)]
    withdrawals = [_withdraw(n) for n in range(2, 5_001)]
    state = _state(*entries, *withdrawals)
    assert state.latest["s"].text == "0"
    assert len(state.history["s"]) == 9_999


@given(st.lists(_ANY, max_size=20))
def test_the_state_before_each_entry_is_that_of_all_above_it(entries: list[Entry]) -> None:
    numbered = _numbered(*entries)
    found = 0
    for count, (state, entry) in enumerate(states_before(numbered)):
        assert state == replay(numbered[:count])
        assert entry is numbered[count]
        found += 1
    assert found == len(numbered)


def test_states_before_withdrawals_look_at_each_entry_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Who writes a record may take back each entry as soon as it was made; no one waits for it."""
    pairs = ((_entry("answer", text=str(n)), _withdraw(2 * n + 1)) for n in range(200))
    numbered = _numbered(*(entry for pair in pairs for entry in pair))
    looked: list[Entry] = []
    add = _Draft.add

    def watched(draft: _Draft, entry: Entry) -> None:
        looked.append(entry)
        add(draft, entry)

    monkeypatch.setattr(_Draft, "add", watched)
    assert sum(not state.latest for state, _entry in states_before(numbered)) == 200
    assert looked == list(numbered)
