"""The five checklists that come with the program: what the trade requires is in them."""

from __future__ import annotations

import pytest

from commission.checklist.load import load_checklist, parse_checklist
from commission.checklist.schema import JOB_KIND_WORDS, Checklist, Item, Scope
from commission.resources import checklists
from tests.checklist.sites import LISTS, NAMES, checklist, plan_of

MAX_ASK = 200  # characters that stand on a small screen without scrolling (judgement)


def items(listed: Checklist) -> dict[str, Item]:
    return {item.id: item for stage in listed.stage for item in stage.item}


def scopes(listed: Checklist) -> dict[str, Scope]:
    return {item.id: item.each or stage.each for stage in listed.stage for item in stage.item}


# What a commissioning of a new installation consists of, in order. The order look, dead tests, live
# tests is that of IEC 60364-6 (clauses 6.4.2 and 6.4.3, from memory); the content is common
# practice of the trade, no published source.
REQUIRED: dict[str, dict[str, Scope]] = {
    "before-work": {
        "people": "job", "licence": "job", "who-watches": "job", "radio": "job",
        "own-locks": "job", "instruments": "job", "weather": "job", "soil-moisture": "job",
        "supply-certificate": "job", "cautions-read": "job", "isolate": "controller",
    },
    "cable": {
        "no-decoders": "path", "arresters-off": "path", "cable-clear": "path",
        "insulation-first": "path", "insulation-second": "path", "insulation-between": "path",
        "insulation-paths": "path", "insulation-ended": "path", "arresters-back": "path",
        "release": "path",
    },
    "look-controller": {
        "mounting": "controller", "controller-serial": "controller", "one-family": "controller",
        "field-wiring": "controller",
    },
    "look-path": {
        "cable-type": "path", "cable-lot": "path", "connectors": "path", "box-access": "box",
        "joints": "box", "decoder-serial": "station",
    },
    "earth": {
        "earth-terminal": "controller", "protective-conductor": "controller",
        "path-electrodes": "controller", "no-path-electrodes": "controller",
        "earth-isolated": "controller", "earth-method": "controller",
        "electrode-off": "controller", "probe-distance": "controller",
        "earth-resistance": "controller", "slope-20": "controller", "slope-40": "controller",
        "slope-60": "controller", "earth-clamp": "controller", "earth-reconnected": "controller",
        "earth-continuity": "controller",
    },
    "path-dead": {
        "loop-take-off": "path", "dead-ac-between": "path", "dead-ac-first": "path",
        "dead-ac-second": "path", "dead-dc-between": "path", "dead-dc-first": "path",
        "dead-dc-second": "path", "unbridged": "path", "bridge-on": "end",
        "loop-resistance": "end", "loop-reversed": "end", "bridge-off": "end",
        "unbridged-again": "path", "leak-first": "path", "leak-second": "path", "put-back": "path",
    },
    "switching-on": {
        "people-clear": "controller", "supply-on": "controller", "mains-voltage": "output",
    },
    "path-live": {
        "output-voltage": "path", "standby-current": "path", "first-volts-to-earth": "path",
        "second-volts-to-earth": "path", "end-voltage": "end",
    },
    "water": {
        "water-on": "job", "flushed": "job", "static-pressure": "job", "bleeds-set": "path",
        "valves-closed": "path",
    },
    "stations": {
        "address": "station", "indicator": "station", "valve": "station",
        "other-valve": "station", "others-dry": "station", "station-current": "station",
        "closing-time": "station", "indicator-idle": "station",
    },
    "together": {
        "run": "worst-set", "terminal-voltage": "worst-set", "current": "worst-set",
        "worst-voltage": "worst-set",
    },
    "close-out": {
        "defects": "job", "joints-remade": "job", "drawing-changes": "job",
        "owner-instructed": "job", "documents": "job", "completion-date": "job",
        "who-signs": "job",
    },
}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_each_list_loads_and_is_named_after_its_kind_of_job(name: str) -> None:
    listed = load_checklist(LISTS / f"{name}.toml")
    assert JOB_KIND_WORDS[listed.job].replace(" ", "-") == name
    assert (LISTS / f"{name}.toml").read_text("utf-8").startswith("#:schema ../commission/")


def test_there_is_one_list_for_each_kind_of_job_and_no_other() -> None:
    assert sorted(checklists()) == sorted(NAMES)
    assert {checklist(name).job for name in NAMES} == set(JOB_KIND_WORDS)


def test_a_new_installation_has_every_stage_in_the_order_look_dead_live() -> None:
    assert [stage.id for stage in checklist().stage] == list(REQUIRED)
    assert [stage.id for stage in checklist().stage if stage.hold_point] == ["cable"]


@pytest.mark.parametrize("stage_id", REQUIRED)
def test_every_required_step_has_an_item_in_its_stage_and_order(stage_id: str) -> None:
    stage = next(stage for stage in checklist().stage if stage.id == stage_id)
    listed = [item.id for item in stage.item if item.id in REQUIRED[stage_id]]
    assert listed == list(REQUIRED[stage_id])
    for item in stage.item:
        if item.id in REQUIRED[stage_id]:
            assert item.required, item.id
            assert (item.each or stage.each) == REQUIRED[stage_id][item.id]


@pytest.mark.parametrize("name", NAMES)
def test_every_list_has_the_earth_the_dead_and_the_live_tests(name: str) -> None:
    known = items(checklist(name))
    for stage in ("earth", "path-dead", "switching-on", "path-live"):
        assert set(REQUIRED[stage]) <= set(known)
    for step in ("indicator", "valve", "others-dry", "station-current", "closing-time"):
        assert known[step].required
    assert {"radio", "own-locks", "isolate", "people-clear", "terminal-voltage"} <= set(known)


@pytest.mark.parametrize("name", NAMES)
def test_what_makes_the_supply_safe_is_the_same_in_every_list(name: str) -> None:
    """Bridge, unbridged reading, earth, conductors, people; insulation where it is tested."""
    clearing = {key for key, item in items(checklist(name)).items() if item.clears}
    insulation = {"insulation-ended", "arresters-back"}
    assert clearing - insulation == {
        "bridge-off", "unbridged-again", "earth-reconnected", "earth-continuity", "put-back",
        "people-clear",
    }  # fmt: skip
    assert insulation <= clearing or not any("insulation" in key for key in items(checklist(name)))


@pytest.mark.parametrize("name", NAMES)
def test_cautions_stand_where_work_can_hurt(name: str) -> None:
    listed = checklist(name)
    known = items(listed)
    expected = {
        "isolate": "mains", "supply-on": "mains", "mains-voltage": "mains",
        "electrode-off": "lightning", "probes": "services", "water-on": "pressure",
        "unbridged": "no-tester", "loop-resistance": "no-tester", "leak-first": "no-tester",
        "insulation-first": "tester", "insulation-ended": "tester", "box-access": "box",
        "earth-resistance": "local-code", "earth-clamp": "local-code", "slope-60": "local-code",
        "slope-distance": "services",
    }  # fmt: skip
    for step, caution in expected.items():
        if step in known:
            assert caution in known[step].caution, step
    assert set(known["cautions-read"].caution) <= set(listed.caution)
    assert "local-code" in known["cautions-read"].caution


@pytest.mark.parametrize("name", NAMES)
def test_words_are_short(name: str) -> None:
    for item in items(checklist(name)).values():
        assert len(item.ask) <= MAX_ASK, item.id
        assert len(item.why) <= MAX_ASK, item.id
        assert len(item.title) <= 34, item.id


@pytest.mark.parametrize("name", NAMES)
def test_the_tester_never_meets_a_decoder(name: str) -> None:
    """Readings at 250 V d.c. are only asked for before decoders are spliced."""
    listed = checklist(name)
    for stage in listed.stage:
        for item in stage.item:
            if item.compare == "insulation":
                assert stage.hold_point
                assert "250 V" in item.ask


def test_the_signs_of_a_station_are_all_asked() -> None:
    signs = {item.id: item.sign for item in items(checklist()).values() if item.sign}
    assert signs == {
        "indicator": "indicator", "valve": "valve", "others-dry": "others",
        "station-current": "current", "closing-time": "closing", "indicator-idle": "idle",
    }  # fmt: skip


def test_what_is_buried_asks_for_observer_and_photo() -> None:
    hidden = {key for key, item in items(checklist()).items() if item.hidden_later}
    assert hidden == {"cable-type", "joints", "rods-apart", "joints-remade"}


def test_sixty_stations_stay_bearable() -> None:
    """Eight required steps for a sound station of one solenoid, its serial number included."""
    steps = [
        step
        for step in plan_of().steps
        if step.target.station == "S1" and step.item.required
        and (not step.conditions or step.item.id == "closing-time")
    ]  # fmt: skip
    assert len(steps) == 8


def test_converted_cable_proves_dead_disconnects_and_abandons() -> None:
    stage = next(stage for stage in checklist("converted-cable").stage if stage.hold_point)
    order = [item.id for item in stage.item]
    wanted = ["other-controllers", "bundle-dead-ac", "bundle-dead-dc", "pair", "insulation-first",
              "abandoned", "release"]  # fmt: skip
    assert [item for item in order if item in wanted] == wanted
    assert all(item.required for item in stage.item if item.id in wanted)


def test_added_stations_are_tested_before_joining_and_compared() -> None:
    known = items(checklist("added-stations"))
    assert {"earlier-report", "additions", "not-joined", "release", "loops-compared"} <= set(known)


def test_an_inspection_repeats_a_sample() -> None:
    known, reach = items(checklist("inspection")), scopes(checklist("inspection"))
    assert {"report-inspected", "independent", "sample", "agreement"} <= set(known)
    for step, scope in {
        "end-sampled": "end",
        "box-sampled": "box",
        "station-sampled": "station",
    }.items():
        assert reach[step] == scope
    for step in ("bridge-on", "loop-resistance", "loop-reversed", "bridge-off"):
        assert known[step].when[0].answer == "end-sampled"


def test_a_tradesperson_can_copy_a_list_and_change_words_and_items() -> None:
    text = (LISTS / "periodic-recheck.toml").read_text("utf-8")
    text = text.replace('title = "Periodic recheck"', 'title = "Our spring round"')
    text = text.replace(
        "Describe the weather now, and rain in the last days.", "Rain since Monday?"
    )
    text += """
[[stage]]
id = "winter"
title = "Before winter"
each = "path"

[[stage.item]]
id = "blown-out"
title = "Blown out"
ask = "Path {path}: has the water been blown out at {ends}?"
answer = "confirm"
"""
    own = parse_checklist(text.encode(), "our-round.toml")
    plan = plan_of(own)
    assert own.title == "Our spring round"
    assert plan.by_id["job/weather"].ask == "Rain since Monday?"
    assert plan.steps[-2].ask == "Path A: has the water been blown out at B2 and B3?"
    assert plan.steps[-1].id == "path/B/blown-out"
