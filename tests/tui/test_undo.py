"""Undo within the walk: the last answer, then the one before; the history keeps them all."""

from __future__ import annotations

from pathlib import Path

from tests.tui.test_walk_behaviour import SAMPLE, at, loop, loop_reading
from tests.tui.walking import Walk, play
from tests.walks import begin, first


def test_undo_takes_back_the_last_answer_and_the_one_before(tmp_path: Path) -> None:
    session = at(tmp_path, loop)
    step, before = first(session, loop), len(session.job.state.entries)
    reading = loop_reading(session)

    async def scene(walk: Walk) -> None:
        await walk.press(reading, "enter")
        await walk.until(lambda: walk.walk.step_id != step.id, "the next step")
        await walk.menu(f"Undo the last answer: Loop resistance: {reading}")
        await walk.shows("the entry stays in the history")
        await walk.finish()
        await walk.until(lambda: walk.walk.step_id == step.id, "the step again")
        assert walk.typed == reading
        assert session.job.statuses[step.id].state == "open"
        undo = session.job.state.entries[-1]
        assert (undo.type, undo.refers_to, undo.text) == (
            "withdrawal",
            before + 1,
            "typed by mistake",
        )
        await walk.menu("Undo the last answer: Bridge on")
        await walk.shows("Undo: Bridge on")
        await walk.finish(reason="bridged at the wrong box")
        await walk.until(lambda: walk.walk.step_id != step.id, "the step before")
        assert walk.walk.status.step.title == "Bridge on"
        assert len(session.job.state.entries) == before + 3
        await walk.menu("Undo the last answer")
        await walk.back()
        assert len(session.job.state.entries) == before + 3

    play(session, scene)


def test_there_is_nothing_to_undo_in_a_new_job(tmp_path: Path) -> None:
    session = begin(tmp_path, SAMPLE)

    async def scene(walk: Walk) -> None:
        await walk.press("escape")
        await walk.shows("Skip this step")
        assert "1  Undo the last answer: none yet" in walk.text

    play(session, scene)
