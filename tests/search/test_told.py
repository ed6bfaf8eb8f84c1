"""Tests of what is told of a search: the cautions go with the work that is next."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from commission.locate.readings import FieldTest
from commission.search.found import found
from commission.search.steps import id_of
from commission.search.told import told
from commission.session import Session
from tests import walks
from tests.search.faulty import dead, loops, walked


def care(session: Session) -> str:
    """What is said under "Take care"."""
    (one,) = found(session.job)
    texts = [line.text for line in told(session.job, one)]
    return "\n".join(texts[texts.index("Take care") + 1 :])


def test_a_test_says_what_to_take_care_of(tmp_path: Path) -> None:
    with closing(walked(tmp_path, loops("B4", ohm=3.0), until="people-clear")) as session:
        assert "prove dead" in care(session)
        assert "dig" not in care(session)


def test_a_repair_of_a_buried_cable_says_so_too(tmp_path: Path) -> None:
    with closing(walked(tmp_path, loops("B4", ohm=3.0), until="people-clear")) as session:
        test = FieldTest("loop", "A", "B3")
        walks.answer(session, session.take_up(test), "yes")
        walks.answer(session, session.job.plan.by_id[id_of(test)], "4.74 ohm")
        said = care(session)
        for words in ("prove dead", "Locate buried services before you dig", "lightning"):
            assert words in said
        assert "Local codes" in said


def test_a_repair_in_a_box_needs_no_digging(tmp_path: Path) -> None:
    with closing(walked(tmp_path, dead("S4"))) as session:
        assert "prove dead" in care(session)
        assert "dig" not in care(session)
