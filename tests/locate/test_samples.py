"""The invented sites that come along, with every peculiarity they have: nothing trips over them."""

from __future__ import annotations

import pytest

from commission.expected.inputs import Drawing
from commission.expected.model import OutputModel, on_test_day
from commission.locate.faults import OPEN_OHM, Fault
from commission.locate.next_test import Advisor
from commission.locate.outcomes import outcomes
from commission.locate.posterior import posterior
from commission.locate.readings import FieldTest, Reading
from commission.locate.scene import Scene, value
from commission.locate.signs import Signs
from commission.locate.situation import Situation
from commission.locate.words import Words
from commission.resources import samples
from commission.site.load import load_site
from commission.site.schema import Site
from commission.site.tree import build_trees

SITES = {name: load_site(path) for name, path in samples().items()}
OUTPUTS = [(name, output.id) for name, site in SITES.items() for output in site.output]


def model_of(site: Site, output: str) -> OutputModel:
    return on_test_day(Drawing(site, build_trees(site)), output, None)


def readings_of(scene: Scene, situation: Situation) -> list[Reading]:
    """What the program's own model reads: all loops at ends, currents, valves."""
    model, paths = scene.model, sorted({station.path for station in scene.model.stations})
    found = []
    for path in paths:
        loops = [FieldTest("loop", path, end) for end in model.drawing.trees[path].ends()]
        called = [s.id for s in model.stations if s.path == path]
        currents = [FieldTest("current", path, station=s) for s in ("", *called)]
        found += [Reading(t, value(situation, t, "holding")) for t in (*loops, *currents)]
        found += [
            Reading(FieldTest("water", path, station=s), seen=watered(scene, situation, s))
            for s in called
        ]
    return found


def watered(scene: Scene, situation: Situation, called: str) -> frozenset[str]:
    """The valves that should be seen to give water."""
    signs = Signs(scene)
    answering = situation.answering(called)
    return frozenset(s for s in answering if signs.water(situation, s, called) > 0.5)


@pytest.mark.parametrize(("name", "output"), OUTPUTS)
def test_a_sound_output_is_believed_sound(name: str, output: str) -> None:
    scene = Scene(model_of(SITES[name], output))
    found = posterior(scene, readings_of(scene, scene.sound))
    assert found.explained
    assert found.best[0] == frozenset()


@pytest.mark.parametrize(("name", "output"), OUTPUTS)
def test_faults_are_named_in_the_words_of_the_drawing(name: str, output: str) -> None:
    site = SITES[name]
    scene, words = Scene(model_of(site, output)), Words(site)
    station = next(s for s in scene.model.stations if not s.runs_with_every_station)
    end = max(scene.model.drawing.trees[station.path].ends())
    dead = Fault("decoder dead", station.path, station.box, station.id)
    found = posterior(scene, readings_of(scene, scene.situation([dead])))
    assert found.best[0] == {dead.place}
    assert f"station {station.number} at {station.box}" in words.statement(found)
    opened = Fault("open", station.path, end, ohm=OPEN_OHM)
    found = posterior(scene, readings_of(scene, scene.situation([opened])))
    assert found.best[0] == {opened.place}
    assert f" and {end} (" in words.statement(found)


@pytest.mark.parametrize(("name", "output"), OUTPUTS)
def test_every_outcome_of_a_suggestion_is_named(name: str, output: str) -> None:
    site = SITES[name]
    scene, words = Scene(model_of(site, output)), Words(site)
    path = scene.model.stations[0].path
    box = scene.model.drawing.trees[path].boxes[-1]
    joint = Fault("joint", path, box, ohm=3.0)
    found = posterior(scene, readings_of(scene, scene.situation([joint])))
    assert any(joint.place in places for places in list(found.by_places)[:4])
    suggestion = Advisor(found).best()
    if suggestion is None:
        assert found.sure or "cannot be decided" in words.undecidable(found)
        return
    said = outcomes(Advisor(found), suggestion.test)
    assert sum(one.probability for one in said) == pytest.approx(1.0, abs=0.05)
    assert all(words.places(places) for one in said for places in one.places)
