"""What the entries of a record amount to: a pure fold, nothing kept anywhere else.

Nothing is ever taken out: a withdrawn entry stays in the history, and what it had replaced counts
again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from commission.record.entry import Entry

OPENED, CLOSED, WITHDRAWN = "opened", "closed", "withdrawn"
SETTLING = ("answer", "skip", "not-applicable")
FINAL = ("withdrawal", "recovery")  # never withdrawn


@dataclass(frozen=True, slots=True)
class Defect:
    """One defect as it stands: the words of its opening, and every entry about it."""

    id: str
    state: str  # "opened", "closed", "withdrawn"
    severity: str
    where: str
    text: str
    action: str
    step: str
    opened: int  # number of the entry that opened it
    closed: int | None  # number of the entry that closed it
    history: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class State:
    """Everything that the entries say together, by step id where it belongs to a step."""

    entries: tuple[Entry, ...] = ()
    latest: Mapping[str, Entry] = field(default_factory=dict)  # live answer, skip, not-applicable
    history: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # all, oldest first
    notes: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # live ones
    attachments: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)  # live ones
    decisions: Mapping[str, Entry] = field(default_factory=dict)  # on what is latest now
    defects: Mapping[str, Defect] = field(default_factory=dict)  # by defect id
    withdrawn: frozenset[int] = frozenset()  # numbers

    def is_live(self, entry: Entry) -> bool:
        """Whether an entry has not been withdrawn."""
        return entry.number not in self.withdrawn


def replay(entries: Iterable[Entry]) -> State:
    """The state after all entries of a record, in time linear in their number."""
    everything = tuple(entries)
    withdrawn = frozenset(_withdrawals(everything))
    draft = _Draft(withdrawn)
    for entry in everything:
        draft.add(entry)
    return draft.frozen(everything)


def states_before(entries: Sequence[Entry]) -> Iterator[tuple[State, Entry]]:
    """Every entry with the state before it, in time linear in their number.

    A state holds until the next one is asked for: they share what they have in common. `replay`
    of what stands before an entry gives the same.
    """
    draft, possible = _Draft(frozenset()), dict[int, Entry]()
    for place, entry in enumerate(entries):
        yield draft.frozen(tuple(entries[:place])), entry
        draft.add(entry)
        if entry.type == "withdrawal" and entry.refers_to in possible:
            draft.take_back(possible[entry.refers_to])
        if entry.type not in FINAL:
            possible[entry.number] = entry


def fold(state: State, entry: Entry) -> State:
    """The state after one more entry; `replay` of all entries gives the same."""
    entries = (*state.entries, entry)
    if entry.type == "withdrawal":
        return replay(entries)
    draft = _Draft(state.withdrawn, state)
    draft.add(entry)
    return draft.frozen(entries)


def _withdrawals(entries: tuple[Entry, ...]) -> Iterator[int]:
    """Numbers of the entries that a later one withdraws."""
    possible = set()
    for entry in entries:
        target = entry.refers_to
        if entry.type == "withdrawal" and target is not None and target in possible:
            yield target
        if entry.type not in FINAL:
            possible.add(entry.number)


def written_along(entry: Entry, entries: tuple[Entry, ...]) -> Iterator[int]:
    """Numbers of what an answer brought with it in one write: its note, the defects it closed."""
    first = entry.written_with or entry.number
    for other in entries[entry.number :]:
        if entry.type != "answer" or other.type == "answer" or other.written_with != first:
            return
        yield other.number


class _Draft:
    """A state while entries are being added to it. The withdrawn ones are known beforehand."""

    def __init__(self, withdrawn: frozenset[int], state: State | None = None) -> None:
        state = state or State()
        self.withdrawn = withdrawn
        self.latest = dict(state.latest)
        self.history = dict(state.history)
        self.notes = dict(state.notes)
        self.attachments = dict(state.attachments)
        self.decisions = dict(state.decisions)
        self.defects = dict(state.defects)

    def add(self, entry: Entry) -> None:
        """Take in the next entry."""
        step = entry.step
        self.history[step] = (*self.history.get(step, ()), entry)
        live = entry.number not in self.withdrawn
        if entry.type == "defect":
            self._add_defect(entry)
        elif not live:
            return
        elif entry.type in SETTLING:
            self.latest[step] = entry
            self.decisions.pop(step, None)
        elif entry.type == "note":
            self.notes[step] = (*self.notes.get(step, ()), entry)
            if entry.decision and self._is_about_latest(entry):
                self.decisions[step] = entry
        elif entry.type == "attachment":
            self.attachments[step] = (*self.attachments.get(step, ()), entry)

    def take_back(self, entry: Entry) -> None:
        """Let an entry that was added count no more; what it had replaced counts again."""
        self.withdrawn |= {entry.number}
        step = entry.step
        if entry.type == "defect":
            self.defects[entry.defect] = _defect(self.defects[entry.defect].history, self.withdrawn)
        for kept in (self.notes, self.attachments):
            left = tuple(one for one in kept.get(step, ()) if one.number != entry.number)
            if left:
                kept[step] = left
            else:
                kept.pop(step, None)
        self._settle_again(step)

    def _settle_again(self, step: str) -> None:
        """The latest live answer, skip or "not applicable" of a step, and the decision on it."""
        self.latest.pop(step, None)
        self.decisions.pop(step, None)
        decisions: dict[int | None, Entry] = {}
        for entry in reversed(self.history.get(step, ())):
            if entry.number in self.withdrawn:
                continue
            if entry.type == "note" and entry.decision:
                decisions.setdefault(entry.refers_to, entry)
            elif entry.type in SETTLING:
                self.latest[step] = entry
                if entry.number in decisions:
                    self.decisions[step] = decisions[entry.number]
                return

    def _is_about_latest(self, note: Entry) -> bool:
        latest = self.latest.get(note.step)
        return latest is not None and latest.number == note.refers_to

    def _add_defect(self, entry: Entry) -> None:
        earlier = self.defects.get(entry.defect)
        history = (*(earlier.history if earlier else ()), entry)
        self.defects[entry.defect] = _defect(history, self.withdrawn)

    def frozen(self, entries: tuple[Entry, ...]) -> State:
        """The state as it stands now."""
        return State(
            entries=entries,
            latest=MappingProxyType(self.latest),
            history=MappingProxyType(self.history),
            notes=MappingProxyType(self.notes),
            attachments=MappingProxyType(self.attachments),
            decisions=MappingProxyType(self.decisions),
            defects=MappingProxyType(self.defects),
            withdrawn=self.withdrawn,
        )


def _defect(history: tuple[Entry, ...], withdrawn: frozenset[int]) -> Defect:
    """A defect from the entries about it: its first live opening, its last live state."""
    live = [entry for entry in history if entry.number not in withdrawn]
    opening = next((entry for entry in live if entry.state == OPENED), None)
    told = opening or history[0]
    closing = live[-1].number if opening and live[-1].state == CLOSED else None
    return Defect(
        id=told.defect,
        state=WITHDRAWN if opening is None else CLOSED if closing else OPENED,
        severity=told.severity,
        where=told.where,
        text=told.text,
        action=told.action,
        step=told.step,
        opened=told.number,
        closed=closing,
        history=history,
    )
