"""The survey of an old bundle in the walk: the bridge from a job to `bundle/`.

Its readings are steps like any other, made from the site and the record alone: what was answered,
and in every section the one reading that tells most now.
"""

from __future__ import annotations

from commission.checklist.plan import Plan
from commission.record.replay import State
from commission.site.schema import Site

PREFIX = "bundle/"


def with_survey(plan: Plan, site: Site, state: State) -> Plan:
    """A plan with the survey of every bundle that the site describes; the same without any."""
    if not any(path.conductor for path in site.path):
        return plan
    from commission.survey.steps import with_sections  # a start does without

    return with_sections(plan, site, state)
