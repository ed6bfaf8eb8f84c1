"""Unrolling a checklist over a site: stable ids, the order of the walk, words filled in."""

from __future__ import annotations

import re
from itertools import groupby

import pytest

from commission.checklist.load import parse_checklist
from commission.checklist.plan import Plan, applies, plan_exceeds
from commission.checklist.schema import Checklist
from commission.checklist.words import PLACEHOLDERS
from commission.site.tree import build_trees
from tests.checklist.sites import LISTS, NAMES, checklist, large_site, plan_of, site, site_data

HEAD = 'kind = "commission checklist"\nformat = 1\njob = "new"\ntitle = "Small"\n'


def listed(text: str) -> Checklist:
    return parse_checklist((HEAD + text).encode(), "small.toml")


def ids(plan: Plan, stage: str) -> list[str]:
    return [step.id for step in plan.steps if step.stage.id == stage]


# Ids are in the records of jobs, so they never change: this list may grow, nothing may leave it.
PINNED = [
    "job/licence",
    "controller/isolate",
    "path/A/insulation-first",
    "path/A/cable-type",
    "path/A/box/B3/joints",
    "station/S2/decoder-serial",
    "controller/earth-resistance",
    "controller/earth-continuity",
    "path/A/loop-take-off",
    "path/A/unbridged",
    "path/A/end/B2/loop-resistance",
    "path/A/end/B3/loop-reversed",
    "path/B/end/C2/bridge-off",
    "path/A/unbridged-again",
    "controller/supply-on",
    "output/1/mains-voltage",
    "path/A/output-voltage",
    "path/A/end/B2/end-voltage",
    "job/static-pressure",
    "station/S1/indicator",
    "station/S2/other-valve",
    "station/S1/station-current",
    "output/1/together/terminal-voltage",
    "job/completion-date",
]


@pytest.mark.parametrize("step_id", PINNED)
def test_ids_are_stable(step_id: str) -> None:
    assert plan_of().by_id[step_id].id == step_id


@pytest.mark.parametrize("name", NAMES)
def test_every_step_has_its_own_id_and_stages_keep_their_order(name: str) -> None:
    plan = plan_of(checklist(name))
    assert len(plan.by_id) == len(plan.steps)
    numbers = [step.stage_number for step in plan.steps]
    assert numbers == sorted(numbers)
    assert "{" not in "".join(step.title + step.ask + step.why for step in plan.steps)


def test_a_stage_repeated_for_paths_is_whole_for_one_before_the_next() -> None:
    for stage in ("path-dead", "look-path", "stations"):
        paths = [plan_of().by_id[step_id].target.path for step_id in ids(plan_of(), stage)]
        assert [path for path, _ in groupby(paths)] == ["A", "B"]


def test_ends_are_walked_one_by_one_with_all_their_questions() -> None:
    dead = [step_id for step_id in ids(plan_of(), "path-dead") if "path/A/end" in step_id]
    assert dead == [
        f"path/A/end/{end}/{item}"
        for end in ("B2", "B3")
        for item in ("bridge-on", "loop-resistance", "loop-reversed", "bridge-off")
    ]


def test_boxes_come_in_walking_order_and_stations_by_number() -> None:
    look = [plan_of().by_id[step_id].target for step_id in ids(plan_of(), "look-path")]
    boxes = [target.box for target in look if target.scope == "box" and target.path == "A"]
    assert [box for box, _ in groupby(boxes)] == ["B1", "B2", "B3"]
    stations = [plan_of().by_id[step_id].target.station for step_id in ids(plan_of(), "stations")]
    assert [station for station, _ in groupby(stations)] == ["S1", "S2", "S3", "S4"]


def test_targets_say_where() -> None:
    plan = plan_of()
    end = plan.by_id["path/A/end/B2/loop-resistance"].target
    assert (end.scope, end.output, end.path, end.box, end.station) == ("end", "1", "A", "B2", "")
    assert end.label == "Path A, end B2"
    station = plan.by_id["station/S2/valve"].target
    assert (station.output, station.path, station.box) == ("1", "A", "B2")
    assert station.label == "Station 2, path A, box B2"
    assert plan.by_id["path/A/unbridged"].target.label == "Path A (north)"
    together = plan.by_id["output/1/together/run"].target
    assert together.stations == ("S2", "S3")
    assert together.label == "Output 1, together"


def test_a_new_label_changes_words_and_no_id() -> None:
    data = site_data()
    data["path"][0]["label"] = "south"
    renamed = plan_of(on=site(path=data["path"]))
    assert list(renamed.by_id) == list(plan_of().by_id)
    assert renamed.by_id["path/A/unbridged"].target.label == "Path A (south)"


def test_an_output_without_a_worst_set_has_no_steps_together() -> None:
    assert ids(plan_of(worst={}), "together") == []


def test_words_are_filled_in_from_the_site() -> None:
    plan = plan_of()
    assert "end B2 of path A, 150 ft from" in plan.by_id["path/A/end/B2/bridge-on"].ask
    assert "14 AWG solid (UF)" in plan.by_id["path/A/cable-type"].ask
    assert "10 ohm" in plan.by_id["controller/earth-resistance"].ask
    assert "at least 1 kohm" in plan.by_id["path/A/unbridged-again"].ask
    assert "address 102" in plan.by_id["station/S2/address"].ask
    assert "solenoids V1 and V2" in plan.by_id["station/S2/valve"].ask
    assert "flashing about once a second" in plan.by_id["station/S1/indicator"].ask
    assert "stations 2 and 3 at once" in plan.by_id["output/1/together/run"].ask
    assert "station 3 in box B3" in plan.by_id["output/1/together/run"].ask
    assert "at most 60 s" in plan.by_id["station/S1/closing-time"].ask


def test_a_site_in_si_shows_metres_and_the_units_that_go_with_them() -> None:
    metric = plan_of(on=site(site=site_data()["site"] | {"units": "SI"}))
    assert "46 m from" in metric.by_id["path/A/end/B2/bridge-on"].ask  # 150 ft = 45.72 m
    assert metric.by_id["job/static-pressure"].item.unit == "kPa"
    assert plan_of().by_id["job/static-pressure"].item.unit == "psi"


@pytest.mark.parametrize("name", PLACEHOLDERS)
def test_every_placeholder_has_a_value_wherever_it_may_be_used(name: str) -> None:
    for scope in sorted(PLACEHOLDERS[name].scopes):
        plan = plan_of(
            listed(
                f'[[stage]]\nid = "s"\ntitle = "S"\n[[stage.item]]\nid = "i"\ntitle = "T"\n'
                f'each = "{scope}"\nask = "<{{{name}}}>"\nanswer = "confirm"\n'
            )
        )
        assert plan.steps
        assert all(len(step.ask) > 2 and step.ask[0] == "<" for step in plan.steps)


def test_the_list_to_copy_from_explains_every_placeholder() -> None:
    text = (LISTS / "new-installation.toml").read_text("utf-8").split("kind =")[0]
    assert set(re.findall(r"\{(\w+)\}", text)) == set(PLACEHOLDERS)


def test_text_of_the_site_is_never_taken_for_a_placeholder() -> None:
    odd = site(controller={"description": "Cabinet {path}"})
    assert plan_of(on=odd).by_id["controller/mounting"].ask.startswith("Cabinet {path}: ")


# Conditions on facts of the site.


@pytest.mark.parametrize(
    ("changed", "present", "absent"),
    [
        ({}, "controller/no-path-electrodes", "controller/path-electrodes"),
        (
            {"controller": {"description": "C", "path_electrodes": True}},
            "controller/path-electrodes",
            "controller/no-path-electrodes",
        ),
        ({}, "station/S1/address", "station/S1/address-label"),
        (
            {"controller": {"description": "C", "address_check": False}},
            "station/S1/address-label",
            "station/S1/address",
        ),
        ({}, "path/A/insulation-paths", "path/A/arresters-off"),
        (
            {"controller": {"description": "C", "surge_arresters": True}},
            "path/A/arresters-back",
            "controller/path-electrodes",
        ),
        ({}, "station/S2/other-valve", "station/S1/other-valve"),
        ({}, "path/A/volts-to-earth-alike", "controller/rods-apart"),
        (
            {"output": [{"id": "1", "rating": "40 VA", "earthing": "earthed"}]},
            "path/A/first-volts-to-earth",
            "path/A/volts-to-earth-alike",
        ),
        (
            {"earth": {"electrode": [{"kind": "rod", "count": 2}]}},
            "controller/rods-apart",
            "controller/path-electrodes",
        ),
    ],
)
def test_facts_decide_when_the_plan_is_made(
    changed: dict[str, object], present: str, absent: str
) -> None:
    plan = plan_of(on=site(**changed))
    assert present in plan.by_id
    assert absent not in plan.by_id


def test_old_cable_has_no_insulation_test_before_splicing() -> None:
    paths = site_data()["path"]
    paths[1]["new_cable"] = False
    plan = plan_of(on=site(path=paths))
    assert ids(plan, "cable")
    assert not any(step_id.startswith("path/B") for step_id in ids(plan, "cable"))


def test_the_kind_of_job_is_a_fact() -> None:
    text = '[[stage]]\nid = "s"\ntitle = "S"\n' + "".join(
        f'[[stage.item]]\nid = "{name}"\ntitle = "T"\nask = "A"\nanswer = "confirm"\n'
        f'when = [{{ fact = "job.kind", is = {wanted} }}]\n'
        for name, wanted in (("one", '"new"'), ("two", '"recheck"'), ("three", '["new", "added"]'))
    )
    assert ids(plan_of(listed(text)), "s") == ["job/one", "job/three"]


# Conditions on earlier answers.


@pytest.mark.parametrize(
    ("step", "answers", "asked"),
    [
        ("station/S1/valve-supplied", {}, False),
        ("station/S1/valve-supplied", {"station/S1/valve": "opens, water flows"}, False),
        ("station/S1/valve-supplied", {"station/S1/valve": "clicks, no water"}, True),
        ("station/S1/valve-supplied", {"station/S2/valve": "clicks, no water"}, False),
        ("station/S1/closing-time", {"station/S1/valve": "opens, water flows"}, True),
        ("station/S1/closing-time", {"station/S1/valve": "nothing"}, False),
        ("station/S1/which-other", {"station/S1/others-dry": "no"}, True),
        ("station/S1/which-other", {"station/S1/others-dry": "yes"}, False),
        ("controller/electrode-off", {"controller/earth-method": "fall of potential"}, True),
        ("controller/electrode-off", {"controller/earth-method": "clamp"}, False),
        ("controller/earth-clamp", {"controller/earth-method": "clamp"}, True),
        ("controller/electrode-off", {"controller/earth-method": "slope method"}, True),
        ("controller/earth-near", {"controller/earth-method": "slope method"}, False),
        ("controller/slope-20", {"controller/earth-method": "slope method"}, True),
        ("controller/slope-60", {"controller/earth-method": "fall of potential"}, False),
        ("controller/probe-distance", {"controller/earth-method": "fall of potential"}, True),
    ],
)
def test_answers_decide_while_walking(step: str, answers: dict[str, str], asked: bool) -> None:
    assert applies(plan_of().by_id[step], answers) is asked


def test_a_question_goes_when_the_question_before_it_goes() -> None:
    """The follow-up of a follow-up is no longer asked once the valve opened on a retest."""
    coil = plan_of().by_id["station/S1/coil"]
    answers = {
        "station/S1/valve": "nothing",
        "station/S1/valve-supplied": "yes, all as it should be",
    }
    assert applies(coil, answers)
    assert not applies(coil, answers | {"station/S1/valve": "opens, water flows"})


def test_an_answer_of_a_wider_thing_decides_for_all_in_it() -> None:
    plan = plan_of(checklist("added-stations"))
    step = plan.by_id["path/A/insulation-first"]
    assert applies(step, {"path/A/additions": "added to"})
    assert not applies(step, {"path/A/additions": "unchanged", "path/B/additions": "added to"})
    text = (
        '[[stage]]\nid = "s"\ntitle = "S"\n'
        '[[stage.item]]\nid = "open"\ntitle = "T"\nask = "A"\nanswer = "confirm"\neach = "box"\n'
        '[[stage.item]]\nid = "deep"\ntitle = "T"\nask = "A"\nanswer = "confirm"\n'
        'each = "station"\nwhen = [{ answer = "open", is = false }]\n'
    )
    deep = plan_of(listed(text)).by_id["station/S2/deep"]
    assert applies(deep, {"path/A/box/B2/open": "no"})
    assert not applies(deep, {"path/A/box/B1/open": "no"})


def test_sixty_boxes_give_about_a_thousand_steps() -> None:
    """The order of magnitude that screens and the record are built for."""
    plan = plan_of(on=large_site(), worst={"1": ("S60",)})
    assert 800 < len(plan.steps) < 1200


def test_an_answer_that_many_questions_rest_on_is_kept_once() -> None:
    """Each question here rests on the one before in two ways; its answers are 2·n, not 2ⁿ."""
    choices = 'answer = "observe"\nchoice = [{ say = "a" }, { say = "b" }, { say = "c" }]\n'
    text = '[[stage]]\nid = "s"\ntitle = "S"\n'
    for number in range(60):
        text += f'[[stage.item]]\nid = "q{number}"\ntitle = "T"\nask = "A"\n{choices}'
        if number:
            before = f'answer = "q{number - 1}"'
            text += f'when = [{{ {before}, is = "a" }}, {{ {before}, is = ["a", "b"] }}]\n'
    last = plan_of(listed(text)).by_id["job/q59"]
    assert len(last.conditions) == 2 * 59
    answers = {f"job/q{number}": "a" for number in range(59)}
    assert applies(last, answers)
    assert not applies(last, answers | {"job/q7": "b"})


@pytest.mark.parametrize("name", NAMES)
def test_how_much_a_plan_holds_is_told_before_it_is_made(name: str) -> None:
    """At least what it holds then; the rest are steps that facts of the site leave out."""
    for on, worst in ((site(), {"1": ("S2", "S3")}), (large_site(), {"1": ("S60",)})):
        steps = plan_of(checklist(name), on, worst).steps
        holds = sum(1 + len(step.conditions) + len(step.reopened_by) for step in steps)
        of = (checklist(name), on, build_trees(on), worst)
        assert plan_exceeds(holds - 1, *of)
        assert not plan_exceeds(3 * holds, *of)
