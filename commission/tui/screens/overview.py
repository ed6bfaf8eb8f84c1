"""Where the job stands: stages, defects, and what stands against acceptance."""

from __future__ import annotations

from textual.content import Content

from commission.job import Job
from commission.verdict.progress import exceptions, stages, verdict_of_whole
from commission.works import will_it_work


def overview(job: Job) -> Content:
    """The job's progress as text."""
    found = exceptions(job)
    parts: list[tuple[str, str] | str] = [("As it stands: ", "bold"), verdict_of_whole(found)]
    parts.append(f" ({len(found)} named below)\n\n" if found else "\n\n")
    parts.append((f"{'Stage':<34} done    of  fail  marginal\n", "bold"))
    for stage in stages(job):
        parts.append(
            f"{stage.title:<34} {stage.done:>4}  {stage.steps:>4}  {stage.failed:>4}"
            f"  {stage.marginal:>8}\n"
        )
    parts += ["\n", ("Will it work", "bold"), "\n"]
    for output, works in will_it_work(job).items():
        read = f"{works.readings or 'no'} readings taken into account"
        parts += [(f"  Output {output}  ", "bold"), f"{works.words}; {read}\n"]
    parts += ["\n", ("Will the output carry it", "bold"), "\n"]
    for site_output in job.site.output:
        for carried in job.sheet.carried(site_output.id):
            parts += [(f"  Output {site_output.id}  ", "bold"), f"{carried.words}\n"]
    parts += ["\n", ("Against acceptance", "bold"), "\n"] if found else []
    for exception in found:
        parts += [(f"  {exception.kind}  ", "bold"), exception.words, "\n"]
    return Content.assemble(*parts)
