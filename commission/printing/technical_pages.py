"""The technical pages of a report: what was found, drawn and in tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from commission.job import Job
from commission.printing.code_square import code_square
from commission.printing.loop_plot import loop_drawings
from commission.printing.owner_page import Report, described
from commission.printing.page import Html, element, table, text
from commission.printing.path_drawing import path_drawing
from commission.printing.voltage_profile import profile_drawing
from commission.profile import idle_profile, loops, worst_set_profile
from commission.report.finding import EXCEPTION, NOT_DONE, OPEN_DEFECT, PRACTICE, Finding
from commission.report.review import Review
from commission.site.schema import ROOT
from commission.units import length_unit, length_words
from commission.verdict.judge import marked

Table = Mapping[str, Any]
READINGS: Final = ("What", "Expected", "Read", "Verdict", "Finding")
_READINGS: Final = ("what", "range", "read", "verdict", "finding")
_AGAINST: Final = (EXCEPTION, OPEN_DEFECT, NOT_DONE)


def technical_pages(report: Report, review: Review, job: Job) -> Iterator[Html]:
    """Everything below the owner's page."""
    yield element("h1", text("Technical pages"))
    yield from _against(report, review)
    for path in report.get("path", []):
        yield from _path(job, path)
    yield from _works(report, job)
    yield from _loops(job)
    yield from _earth(report["earth"])
    yield from _stations(report)
    yield from _other(report)
    yield from _register(report)
    yield from _work_done(report)
    yield from _signoffs(review)


def _against(report: Report, review: Review) -> Iterator[Html]:
    yield element("h2", text("Exceptions, open defects, and what the review found"))
    findings = [one for one in review.findings if one.kind != PRACTICE]
    if not any(one.kind in _AGAINST for one in findings):
        yield element("p", text("No exception and no open defect stands in it."))
    if findings:
        rows = [(text(kind), text(words)) for kind, words in _told(findings)]
        yield table(("Kind", "What"), rows, ("kind", "words"))
    defects = report.get("defect", [])
    if defects:
        yield element("h2", text("Defects, open and closed"))
        keys = ("id", "state", "severity", "where", "what", "action")
        heads = ("Defect", "State", "Severity", "Where", "What", "What to do about it")
        stands = [{**one, "state": one["state"].replace("opened", "open")} for one in defects]
        yield table(heads, _rows(stands, keys))


def _told(findings: Iterable[Finding]) -> Iterator[tuple[str, str]]:
    """Kind and words of each finding; what was not done at one place is told together."""
    not_done: dict[str, list[str]] = {}
    for one in findings:
        if one.kind == NOT_DONE:
            place, _, what = one.problem.message.partition(": ")
            not_done.setdefault(place, []).append(what.removesuffix(": not done"))
        else:
            yield one.kind, one.problem.message
    for place, titles in not_done.items():
        yield NOT_DONE, f"{place}: {'; '.join(titles)}"


def _path(job: Job, path: Table) -> Iterator[Html]:
    label = f" ({path['label']})" if "label" in path else ""
    yield element("h2", text(f"Path {path['id']}{label}: {marked(path['verdict'])}"))
    yield from path_drawing(job, path["id"])
    ends = [
        {**reading, "title": f"{end['box']}: {reading['title']}"}
        for end in path.get("end", [])
        for reading in end.get("reading", [])
    ]
    yield from readings([*ends, *path.get("reading", [])])


def readings(found: Sequence[Table]) -> Iterator[Html]:
    """Readings as a table; nothing where there are none."""
    if not found:
        return
    yield table(
        READINGS,
        [
            tuple(
                text(words)
                for words in (
                    one["title"],
                    expected_of(one),
                    str(one.get("measured", one.get("state", "not read"))),
                    marked(one["verdict"]),
                    _finding(one),
                )
            )
            for one in found
        ],
        _READINGS,
    )


def _finding(reading: Table) -> str:
    """What was concluded; that a limit is kept stands beside it already."""
    finding = str(reading.get("finding", reading.get("reason", "")))
    if reading["verdict"] == "pass" and "limit" in reading:
        return finding.removeprefix(f"keeps the limit, {reading['limit']}").lstrip(";, ")
    return finding.removeprefix("recorded; ")


def expected_of(reading: Table) -> str:
    """The range with what was expected, or the limit."""
    if "range" in reading:
        return f"{reading['range']}, about {reading.get('expected', '')}"
    return str(reading.get("limit", ""))


def _works(report: Report, job: Job) -> Iterator[Html]:
    unit = length_unit(report["site"].get("units_shown", "SI"))
    yield element("h2", text("Will it work, and will the output carry it"))
    for one in (*report.get("works", []), *report.get("carries", [])):
        yield element("p", text(f"Output {one['output']}: {one['words']}"))
        if "designed_words" in one:
            yield element("p", text(f"As designed, before any reading: {one['designed_words']}"))
    for output in job.site.output:
        yield from _voltages(job, output.id, unit)
    for one in report.get("worst_set", []):
        yield from readings(one.get("reading", []))


def _voltages(job: Job, output: str, unit: str) -> Iterator[Html]:
    """With the worst set running, and with nothing running where that was read at any box."""
    words = f"Output {output}: voltage at the boxes with"
    together, idle = worst_set_profile(job, output), idle_profile(job, output)
    if together is not None:
        numbers = ", ".join(map(str, sorted(together.running)))
        told = f"{words} its worst set running: stations {numbers}"
        yield element("p", text(told), kind="drawn")
        yield profile_drawing(together, unit)
    if any(one.box != ROOT for one in idle.measured):
        yield element("p", text(f"{words} nothing running"), kind="drawn")
        yield profile_drawing(idle, unit)


def _loops(job: Job) -> Iterator[Html]:
    found = loops(job)
    if found:
        yield element("h2", text("Loop resistance of each end, off from what was expected"))
        yield from loop_drawings(found)


def _earth(earth: Table) -> Iterator[Html]:
    yield element("h2", text(f"Earth: {marked(earth['verdict'])}"))
    electrodes = ", ".join(earth.get("electrodes", [])) or "none in the site file"
    conductor = earth.get("conductor", "not stated")
    words = f"Limit {earth['limit_ohm']:g} ohm; electrodes: {electrodes}; conductor: {conductor}"
    yield element("p", text(words))
    yield from readings(earth.get("reading", []))
    yield from _checks([("", earth)])


def _checks(places: Iterable[tuple[str, Table]]) -> Iterator[Html]:
    """What was looked at, one line for each place."""
    rows = []
    for place, one in places:
        told = [
            f"{check['title']}: {check.get('answer', check.get('reason', 'not done'))}"
            f"{_unless_pass(check['verdict'])}"
            for check in one.get("checks", [])
        ]
        if told:
            rows.append((text(place), text("; ".join(told))))
    if rows:
        yield table(("Where", "What was looked at, and the answer"), rows, ("kind", "words"))


def _unless_pass(word: str) -> str:
    return "" if word in ("pass", "recorded") else f" ({marked(word)})"


def _stations(report: Report) -> Iterator[Html]:
    yield element("h2", text("Stations"))
    stations = [
        (f"{path['id']}: {one['box']}", one, {check["title"]: check for check in one["checks"]})
        for path in report.get("path", [])
        for one in path.get("station", [])
        if "checks" in one
    ]
    measured = dict.fromkeys(
        title for *_, checks in stations for title, one in checks.items() if "measured" in one
    )
    rows = []
    for box, one, checks in stations:
        told = [
            str(one["number"]), str(one.get("address", "")), box,
            one.get("waters", one.get("label", "")), marked(one["verdict"]),
        ]  # fmt: skip
        told += [_as_read(checks.get(title, {})) for title in measured]
        told.append(_not_sound(one))
        rows.append([text(words) for words in told])
    heads = ("No.", "Address", "Box", "Waters", "Verdict", *measured, "What was not in order")
    kinds = ("number", "number", "narrow", "", "narrow", *("narrow" for _ in measured), "")
    yield table(heads, rows, kinds)


def _as_read(check: Table) -> str:
    """A reading of a station with its verdict where that is no pass."""
    return f"{check['measured']}{_unless_pass(check['verdict'])}" if "measured" in check else ""


def _not_sound(station: Table) -> str:
    """The likely cause of what was seen, and every answer that is no pass."""
    cause = station.get("likely_cause", "sound")
    told = [] if cause == "sound" else [f"likely: {cause}"]
    told += [
        f"{check['title']}: {check.get('answer', check.get('reason', 'not done'))}"
        f"{_unless_pass(check['verdict'])}"
        for check in station["checks"]
        if "measured" not in check and _unless_pass(check["verdict"])
    ]
    return "; ".join(told)


def _other(report: Report) -> Iterator[Html]:
    yield element("h2", text("Other checks"))
    stages = report.get("stage", [])
    yield from readings(
        [
            {**reading, "title": f"{stage['place']}: {reading['title']}"}
            for stage in stages
            for reading in stage.get("reading", [])
        ]
    )
    places = [(f"{stage['title']}, {stage['place']}", stage) for stage in stages]
    places += [(f"Path {path['id']}", path) for path in report.get("path", [])]
    places += [
        (f"Box {box['box']}, path {path['id']}", box)
        for path in report.get("path", [])
        for box in path.get("box", [])
        if any(_unless_pass(check["verdict"]) for check in box.get("checks", []))
    ]
    yield from _checks(places)


def _register(report: Report) -> Iterator[Html]:
    register, shown = report["register"], report["site"].get("units_shown", "SI")
    yield element("h2", text("Register of what is buried"))
    cables = [
        {**one, "length": length_words(one["length_m"], shown)} for one in register.get("cable", [])
    ]
    boxes = [{**one, "where": described(one)} for one in register.get("box", [])]
    yield table(
        ("Path", "Cable", "Conductor", "Marking", "Length", "New", "Noted"),
        _rows(cables, ("path", "kind", "conductor", "marking", "length", "new"), noted=True),
        ("number", "narrow", "narrow", "", "narrow", "number", "noted"),
    )
    yield table(
        ("Path", "Box", "Where", "Cables", "Noted"),
        _rows(boxes, ("path", "box", "where", "cables"), noted=True),
        ("number", "narrow", "", "number", "noted"),
    )
    keys = ("station", "address", "path", "box", "kind", "serial")
    yield table(
        ("Station", "Address", "Path", "Box", "Decoder", "Serial", "Noted"),
        _rows(register.get("decoder", []), keys, noted=True),
        ("number", "number", "number", "narrow", "narrow", "", "noted"),
    )


def _rows(
    found: Iterable[Table], keys: Sequence[str], *, noted: bool = False
) -> Iterator[tuple[Html, ...]]:
    """Rows of a table by keys; what was noted on site comes last where it is asked for."""
    for one in found:
        cells = [text(_in_words(one.get(key, ""))) for key in keys]
        if noted:
            told = [
                f"{note['title']}: {' '.join(note[k] for k in ('answer', 'photo') if k in note)}"
                for note in one.get("found", [])
            ]
            cells.append(text("; ".join(told)))
        yield tuple(cells)


def _in_words(value: object) -> str:
    return str(value) if not isinstance(value, bool) else "yes" if value else "no"


def _work_done(report: Report) -> Iterator[Html]:
    yield element("h2", text("Instruments and people"))
    used = ("id", "make", "serial", "calibration_due", "readings", "warning")
    heads = ("Instrument", "Make", "Serial", "Calibration due", "Readings", "Remark")
    yield table(heads, _rows(report.get("instrument", []), used))
    yield table(
        ("Name", "Entries watched", "Entries written"),
        _rows(report.get("person", []), ("name", "observed", "entered")),
    )
    if report.get("change"):
        yield element("h2", text("Changes to the drawing"))
        keys = ("subject", "before", "after", "why", "by")
        yield table(("What", "Before", "After", "Why", "By"), _rows(report["change"], keys))
    yield from _evidence(report, "Photos and documents, kept with the report")
    for number, one in enumerate(report.get("inspection", []), start=1):
        words = f"Inspection {number}: {one['agree']} readings agree, {one['differ']} differ; "
        yield element("p", text(f"{words}{one['verdict']}"))
        heading = f"Photos and documents of inspection {number}, kept with its own job"
        yield from _evidence(one, heading)


def _evidence(part: Table, heading: str) -> Iterator[Html]:
    """What was attached in the installer's job, or in an inspection."""
    if part.get("evidence"):
        yield element("h2", text(heading))
        yield table(("File", "SHA-256"), _rows(part["evidence"], ("file", "sha256")))


def _signoffs(review: Review) -> Iterator[Html]:
    yield element("h2", text("Sign-offs, fingerprints, and the report's SHA-256"))
    digests = {one.signoffs: one.sha256 for one in review.versions}
    rows = [
        tuple(
            text(words)
            for words in (
                f"{one.number} {one.decision or one.signs_as}",
                f"{one.name}, {one.role}, {one.company}, licence {one.licence}, {one.at}",
                one.fingerprint,
                one.trust,
                digests.get(one.number, ""),
            )
        )
        for one in review.signoffs
    ]
    heads = ("Sign-off", "Who, when", "Fingerprint", "The key, here", "SHA-256 up to here")
    yield table(heads, rows, ("signoff", "", "", "narrow", "sha"))
    words = (
        f"This paper was made from the report {review.report}, version {review.program} of the "
        f"program, formula set {review.formula_set}; every number in it was made again from its "
        "record first. Whether a file is the same one: commission review REPORT --digest, with "
        "what the square holds:"
    )
    yield element(
        "div",
        element("h2", text("This paper and its report file")),
        element("p", text(words)),
        element("div", code_square(review.sha256), kind="square"),
        element("p", text(review.sha256), kind="digest"),
        kind="together",
    )
