"""The tests of a search as steps of the walk, with the safety order of the checklist's own.

A dead test waits until the supply is isolated and the path proved dead, and reopens what the
checklist's loops reopen: no supply before the unbridged reading is taken again and the conductors
are put back. Its bridge must be recorded off, its opened joint recorded remade.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from commission.checklist.plan import Plan, Step
from commission.checklist.schema import Choice, Comparison, Item, Scope, Stage
from commission.checklist.targets import Target, called
from commission.locate.instructions import QUANTITIES, Instructions
from commission.locate.readings import DEAD_KINDS, FieldTest, FieldTestKind
from commission.search import JOINT_OPENED, PREFIX, STAGE
from commission.site.schema import ROOT, Site

_TITLES: dict[FieldTestKind, str] = {
    "loop": "Loop, bridged here",
    "unbridged": "Unbridged reading",
    "side": "Into the cable to {beyond}",
    "current": "Path current",
    "voltage": "Voltage",
    "earth": "Volts to earth, {conductor} conductor",
    "insulation": "Ohms to earth, {conductor}",
    "indicator": "Indicator",
}
_KINDS: dict[str, FieldTestKind] = {kind: kind for kind in _TITLES}
# A sound path reads kilohms and climbs: only a limit says that it is sound.
_COMPARED: dict[FieldTestKind, Comparison] = {
    "unbridged": "unbridged-resistance",
    "side": "unbridged-resistance",
    "insulation": "leak-resistance",
}
_SEEN = (
    Choice(say="as it should be"),
    Choice(say="dark", verdict="fail"),
    Choice(say="something else", verdict="fail"),
)
_AROUND = ("bridge-on", "bridge-off", JOINT_OPENED, "joint-remade")  # done around a test
_ABOUT = "Tests made to find a fault, beside those of the checklist."


def id_of(test: FieldTest) -> str:
    """The permanent id of a test: "search/A/B7/voltage/S12"."""
    parts = (test.path, test.box, test.kind, test.station, test.conductor, test.beyond)
    return PREFIX + "/".join(parts).rstrip("/")


def field_test(step_id: str, site: Site) -> FieldTest | None:
    """The test of an id; None for an id that no test of this site has."""
    parts = step_id.removeprefix(PREFIX).split("/")
    if not step_id.startswith(PREFIX) or not 3 <= len(parts) <= 6:
        return None
    path, box, kind, station, conductor, beyond = [*parts, "", "", ""][:6]
    found = next((one for one in site.path if one.id == path), None)
    if found is None or kind not in _KINDS:
        return None
    boxes = {segment.to_box for segment in found.segment}
    stations = {one.id for one in site.station}
    known = (
        box in {ROOT, *boxes}
        and station in {"", *stations}
        and beyond in {"", *boxes}
        and conductor in ("", "first", "second")
    )
    runs = not station or kind in ("current", "voltage", "earth", "indicator")
    test = FieldTest(_KINDS[kind], path, box, station, conductor, beyond)
    return test if known and runs and id_of(test) == step_id else None


def refused_kinds(plan: Plan, path: str) -> frozenset[str]:
    """The kinds of test that a checklist has no safety order for: all dead ones, or none."""
    return frozenset() if any(_reopened(plan, path)) else frozenset(DEAD_KINDS)


def with_tests(plan: Plan, site: Site, wanted: Collection[str]) -> Plan:
    """A plan with the tests of these ids: dead ones before what they reopen, live ones at the end.

    What stood there of another search is left out, and so is what has no safety order here.
    """
    steps = [step for step in plan.steps if step.stage.id != STAGE]
    base = Plan(tuple(steps), {step.id: step for step in steps})
    tests = (field_test(step_id, site) for step_id in sorted({_own(one) for one in wanted}))
    for test in (one for one in tests if one is not None):
        made = list(_Maker(base, site, test).steps())
        if test.kind in DEAD_KINDS:
            again = {step.id for step in _reopened(base, test.path)}
            if not again:
                continue
            by = [step.id for step in made if not step.item.clears]
            steps = [_reopen(step, by) if step.id in again else step for step in steps]
            place = next(n for n, step in enumerate(steps) if step.id in again)
            steps[place:place] = made
        else:
            steps += made
    return Plan(tuple(steps), {step.id: step for step in steps})


def _own(step_id: str) -> str:
    """The id of the test that a step is, or is done around."""
    front, _, last = step_id.rpartition("/")
    return front if last in _AROUND else step_id


def _reopened(plan: Plan, path: str) -> Iterator[Step]:
    """What the loops of a path make stale for the path as a whole."""
    loops = {
        step.id
        for step in plan.steps
        if step.item.compare == "loop-resistance" and step.target.path == path
    }
    for step in plan.clearing:
        whole = step.target.scope == "path" and step.target.path == path
        if whole and loops & set(step.reopened_by):
            yield step


def _reopen(step: Step, by: list[str]) -> Step:
    return replace(step, reopened_by=tuple(dict.fromkeys((*step.reopened_by, *by))))


class _Maker:
    """Makes the steps of one test."""

    def __init__(self, plan: Plan, site: Site, test: FieldTest) -> None:
        self._plan, self._site, self._test = plan, site, test
        self._words = Instructions(site)

    def steps(self) -> Iterator[Step]:
        """The test, what must be done before it, and what must be set right after it."""
        test, own, box = self._test, id_of(self._test), self._test.box
        does, undoes = "", ""
        if test.kind == "loop":
            does = f"Bridge the conductors in box {box}. The helper reads back the box."
            undoes = (
                f"Remove the bridge in box {box}. The helper reads back: bridge off, box {box}."
            )
            names = ("bridge-on", "Bridge on"), ("bridge-off", "Bridge removed")
        elif test.beyond and box != ROOT:
            does = (
                f"Open the joint in box {box} that leads to {test.beyond}. Note what was spliced."
            )
            undoes = f"Is the joint in box {box} remade with new connectors, waterproof?"
            names = (JOINT_OPENED, "Joint opened"), ("joint-remade", "Joint remade")
        if does:
            (first, title), _ = names
            yield self._confirm(f"{own}/{first}", title, does)
        cautions = self._words.cautions(test)
        yield self._step(own, self._item(), f"{self._words.test(test)}.", cautions)
        if undoes:
            (first, _), (last, title) = names
            after = self._confirm(f"{own}/{last}", title, undoes, clears=True)
            yield replace(after, conditions=((own, ()),), reopened_by=(f"{own}/{first}", own))

    def _item(self) -> Item:
        test = self._test
        title = _TITLES[test.kind].format(beyond=test.beyond, conductor=test.conductor)
        if test.station:
            number = next(s.number for s in self._site.station if s.id == test.station)
            title = f"{title}, station {number}"
        if test.kind == "indicator":
            return Item(
                id=test.kind, title=title[:40], ask=title, answer="observe", choice=_SEEN,
                required=False, needs="on", sign="indicator",
            )  # fmt: skip
        quantity, unit = QUANTITIES[test.unit]
        return Item(
            id=test.kind, title=title[:40], ask=title, answer="measure", required=False,
            quantity=quantity, unit=unit, compare=_COMPARED.get(test.kind),
            needs="off" if test.kind in DEAD_KINDS else "on",
        )  # fmt: skip

    def _confirm(self, step_id: str, title: str, ask: str, *, clears: bool = False) -> Step:
        """A confirmation; one that clears is asked once the work that it ends was recorded."""
        item = Item(
            id=step_id.rsplit("/", 1)[-1], title=title, ask=ask, answer="confirm",
            required=clears, needs="off", clears=clears,
        )  # fmt: skip
        cautions = self._words.cautions(self._test)
        return self._step(step_id, item, ask, cautions)

    def _step(self, step_id: str, item: Item, ask: str, cautions: tuple[str, ...]) -> Step:
        stage = Stage(id=STAGE, title="Finding a fault", about=_ABOUT, item=(item,))
        return Step(
            id=step_id,
            item=item,
            stage=stage,
            stage_number=self._stage_number(item),
            target=self._target(),
            title=item.title,
            ask=ask,
            why="",
            caution=tuple((f"search-{n}", words) for n, words in enumerate(cautions)),
        )

    def _stage_number(self, item: Item) -> int:
        """That of the proofs that the path is dead, for a dead test: they come before it."""
        proofs = [s for s in self._plan.proving_dead if s.target.path == self._test.path]
        if item.needs == "off" and proofs:
            return proofs[-1].stage_number
        return max(step.stage_number for step in self._plan.steps) + 1

    def _target(self) -> Target:
        test = self._test
        path = next(one for one in self._site.path if one.id == test.path)
        if test.kind == "indicator":
            one = next(s for s in self._site.station if s.id == test.station)
            label = f"Station {one.number}, path {path.id}, box {one.box}"
            return Target("station", path.output, path.id, one.box, one.id, label=label)
        if test.box == ROOT:
            label = f"Path {called(path.id, path.label)}"
            return Target("path", path.output, path.id, label=label)
        names = {box.id: box.label for box in path.box}
        label = f"Path {path.id}, box {called(test.box, names.get(test.box, ''))}"
        scope: Scope = "box"
        return Target(scope, path.output, path.id, test.box, label=label)
