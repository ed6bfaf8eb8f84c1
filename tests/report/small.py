"""A small report that has something of everything, made once for many tests."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job
from commission.session import Session
from tests import walks

README = Path(__file__).parents[2] / "README.md"


def example(kind: str) -> str:
    """The README's example of a file: it is as small as a file can be."""
    text = README.read_text(encoding="utf-8")
    found = re.search(rf"<!-- example: {kind} -->\n```toml\n(.*?)\n```", text, re.DOTALL)
    assert found is not None
    return found[1]


def begun(folder: Path, *, invented: bool = True) -> Session:
    """A job on the README's site by the README's checklist."""
    site, checklist = folder / "corner.toml", folder / "loops.toml"
    text = example("site")
    site.write_text(text if invented else re.sub(r"(?m)^invented = .*\n", "", text), "utf-8")
    checklist.write_text(example("checklist"), "utf-8")
    session = open_job(site, kind="inspection", checklist=checklist, disk=Disk(), now=walks.clock())
    session.crew.take(Hands(walks.OBSERVER, walks.WRITER, walks.METER))
    return session


@lru_cache
def sound() -> bytes:
    """A report of a site that is not said to be invented, with nothing against it but no power."""
    with TemporaryDirectory() as folder:
        session = begun(Path(folder), invented=False)
        walks.walk_to_the_end(session)
        session.sign(walks.signoff(), walks.KEY)
        session.close()
        return (session.job.folder / "report.toml").read_bytes()


@lru_cache
def troubled() -> bytes:
    """A practice report: a loop that fails, a defect, steps skipped or open, an old meter."""
    with TemporaryDirectory() as folder:
        session = begun(Path(folder))
        loop = walks.first(session, lambda step: step.item.compare == "loop-resistance")
        walks.walk_until(session, loop)
        expectation = session.job.expectation(loop)
        assert expectation is not None
        walks.answer(session, loop, walks.typed(expectation.value * 2, loop))
        session.raise_defect(loop, "does not work", "box B1", "bad joint", "remake it")
        session.crew.take(replace(session.crew.hands, instrument=walks.OLD_METER))
        following = walks.first_open(session)
        assert following is not None
        walks.answer(session, following, walks.good_answer(session, following))
        third = walks.first_open(session)
        assert third is not None
        session.skip(third, "no access")
        session.sign(walks.signoff(), walks.KEY)
        session.close()
        return (session.job.folder / "report.toml").read_bytes()
