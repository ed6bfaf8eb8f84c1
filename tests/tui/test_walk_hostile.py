"""Hostile text, typed, pasted and from files: shown as text, never obeyed, never sent raw."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual import events

from commission.host import Disk
from commission.opening import open_job
from commission.resources import samples
from commission.session import Session
from tests.tui.walking import Walk, play
from tests.walks import begin, clock, first, walk_until

MARKUP = ("[@click=app.bell]x[/]", "a[/]b", "Valve [north]", "[red]not red[/red]", "$fail")
STEERING = ("\x1b[2J", "\u202eright to left", "\u009b2J", "\u2028", "\u200b")


def at_text(folder: Path) -> Session:
    """A job standing at its first step that takes any text."""
    session = begin(folder, "small-garden")
    walk_until(session, first(session, lambda step: step.item.answer == "text"))
    return session


@pytest.mark.parametrize("text", MARKUP)
def test_typed_markup_is_kept_and_shown_as_it_was_typed(tmp_path: Path, text: str) -> None:
    session = at_text(tmp_path)

    async def scene(walk: Walk) -> None:
        step_id = walk.walk.step_id
        await walk.press(text)
        assert walk.typed == text
        await walk.press("enter")
        await walk.until(lambda: walk.walk.step_id != step_id, "the next step")
        assert walk.kept()[-1] == ("answer", text)
        await walk.press("pageup")
        await walk.shows(text)
        await walk.menu("Raise a defect")
        await walk.finish(text=text, where=text, action=text)
        await walk.shows(f"Open defect D1: {text}")
        await walk.menu("Close a defect after a second look")
        await walk.shows(f"{text}: {text}")
        await walk.back()
        await walk.menu("What is done, failed, open")
        await walk.shows("Where the job stands")

    play(session, scene)


@pytest.mark.parametrize("text", STEERING, ids=ascii)
def test_pasted_controls_are_shown_as_their_codes(tmp_path: Path, text: str) -> None:
    session = at_text(tmp_path)

    async def scene(walk: Walk) -> None:
        walk.walk.entry.post_message(events.Paste("box" + text + "2"))
        await walk.until(lambda: walk.typed != "", "what was pasted")
        assert walk.typed.startswith("box")
        assert walk.typed.isprintable()
        for line in walk.app.screen._compositor.render_strips():
            assert all(character.isprintable() for character in line.text)

    play(session, scene)


def test_controls_put_into_the_entry_are_shown_as_their_codes(tmp_path: Path) -> None:
    """The text of a draft, or of another screen, does not come by typing."""

    async def scene(walk: Walk) -> None:
        walk.walk.show_step(walk.walk.step_id, text="box\x9d\x0f2")
        await walk.shows("box<U+009D><U+000F>2")
        assert walk.typed == "box<U+009D><U+000F>2"

    play(at_text(tmp_path), scene)


def test_markup_from_a_site_file_is_shown_as_text(tmp_path: Path) -> None:
    site = tmp_path / "small-garden.toml"
    text = samples()["small-garden"].read_text("utf-8")
    label = next(line for line in text.splitlines() if line.startswith("label = "))
    changed = text.replace(label, 'label = "a[/]b [@click=app.leave]x[/]"')
    site.write_text(changed, encoding="utf-8")
    session = open_job(site, disk=Disk(), now=clock())

    async def scene(walk: Walk) -> None:
        await walk.shows("Who enters the readings here")
        await walk.back()
        labelled = first(session, lambda step: "a[/]b" in step.target.label)
        await walk.go(labelled)
        await walk.shows("a[/]b [@click=app.leave]")
        await walk.press("escape")
        await walk.shows("a[/]b [@click=app.leave]): Mains voltage")

    play(session, scene, (120, 40))
