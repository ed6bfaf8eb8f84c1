"""Find the fault of a job: its readings put to `locate`, and what that says, in words.

The tests of a search are steps like any other, made from their ids alone: a record that answers one
has it in its plan again whenever it is opened.
"""

from __future__ import annotations

from collections.abc import Iterable

from commission.checklist.plan import Plan
from commission.site.schema import Site

STAGE = "search"
PREFIX = f"{STAGE}/"
JOINT_OPENED = "joint-opened"  # the last part of a step's id: a sealed joint was opened for a test


def with_search(plan: Plan, site: Site, steps: Iterable[str]) -> Plan:
    """A plan with the tests of a search among the ids of `steps`; the same plan without any."""
    wanted = {step for step in steps if step.startswith(PREFIX)}
    if not wanted:
        return plan
    from commission.search.steps import with_tests  # a start does without

    return with_tests(plan, site, wanted)
