"""The owner's page of a report, in plain words: what lies where, what to do, who signed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from commission.printing.page import Html, element, table, text
from commission.report.review import Review
from commission.report.signed_by import SignedBy
from commission.text import counted
from commission.units import length_words

Report = Mapping[str, Any]
VERDICTS: Final = {
    "accepted": "ACCEPTED: everything that was asked for was done and found in order.",
    "handed over with exceptions": (
        "HANDED OVER WITH EXCEPTIONS: it may be used, but not everything was done or found in "
        "order. Each exception is named on the technical pages; ask the installer what becomes "
        "of it, and by when."
    ),
}
FAILS: Final = (
    (
        "One valve does not open",
        "Is there water? Is the valve's own flow control or bleed closed? Does the station run "
        "from the controller by hand? If so, its solenoid, its joint or its decoder needs a look.",
    ),
    (
        "Several valves in a row are dead, to the end of a branch",
        "The cable is open before the first dead one: was there digging? The picture of the path "
        "on the technical pages shows which box comes before it.",
    ),
    (
        "Everything is dead",
        "The supply, the fuse or the controller's output, or a short on a path.",
    ),
    (
        "A wrong valve opens, or two at once",
        "Two decoders with one address, or a wrong number in the controller.",
    ),
    (
        "A valve does not close",
        "Close the water by hand first; then its bleed, dirt under its seat, or its solenoid.",
    ),
)
CAUTIONS: Final = (
    "Before anybody digs: have the buried cable and pipes located; the table above says where the "
    "boxes are. The controller holds mains voltage: its supply side is for a licensed person, with "
    "the supply isolated, locked off and proved dead. No work on cable or boxes with lightning "
    "about. No insulation tester on a cable with decoders on it. Local codes decide."
)
KEEP: Final = (
    "Keep this paper with the documents of the property, and the report file itself unchanged: "
    "only the file can be verified, and whoever repairs or extends the system starts from it."
)


def owner_page(report: Report, review: Review) -> Iterator[Html]:
    """The page, from the verdict to the receipt."""
    site = report["site"]
    yield element("h1", text("For the owner: your irrigation cable was commissioned"))
    told = " · ".join(str(site[key]) for key in ("name", "address", "client") if key in site)
    yield element("p", text(told))
    word = str(report["verdict"])
    yield element("p", text(VERDICTS.get(word, word)), kind="large")
    if report.get("exceptions"):
        yield element("p", text(f"In all: {counted(report['exceptions'], 'exception')}."))
    yield from _last_word(review.signoffs)
    yield from _installed(report)
    yield from _buried(report)
    yield element("h2", text("When something fails"))
    rows = [(text(seen), text(words)) for seen, words in FAILS]
    yield table(("What you see", "What to look at"), rows, ("seen", "look"))
    yield element("p", text(_whom_to_call(review.signoffs)))
    yield element("p", text(CAUTIONS), kind="caution")
    yield from _signed(report, review)
    last = (*_receipt(report, review), element("p", text(KEEP)))
    yield element("div", *last, kind="together")


def _last_word(signoffs: Sequence[SignedBy]) -> Iterator[Html]:
    """What an inspector decided after it."""
    decided = [one for one in signoffs if one.decision in ("countersigned", "refused")]
    if decided:
        last = decided[-1]
        reasons = f": {last.reasons}" if last.reasons else ""
        words = f"The inspector {last.name}: {last.decision.upper()}{reasons}"
        yield element("p", text(words), kind="large")


def _installed(report: Report) -> Iterator[Html]:
    site, job = report["site"], report["job"]
    yield element("h2", text("What was installed"))
    lines = [
        f"{counted(site['stations'], 'station')} on {counted(site['paths'], 'path')}; "
        f"kind of work: {job['kind']}, begun {job['created_at']:%Y-%m-%d}",
        _told(
            site,
            controller="Controller", controller_serial="serial number",
            controller_location="where it is", supply="its supply",
        ),
    ]  # fmt: skip
    yield element("ul", *(element("li", text(words)) for words in lines if words))


def _told(site: Mapping[str, Any], **names: str) -> str:
    """What a site says under some keys, each with its name."""
    return "; ".join(f"{words}: {site[key]}" for key, words in names.items() if key in site)


def _buried(report: Report) -> Iterator[Html]:
    register, shown = report["register"], report["site"].get("units_shown", "SI")
    yield element("h2", text("What is buried, and where"))
    cables = [
        f"Path {one['path']}: {length_words(one['length_m'], shown)} of {one['conductor']} cable"
        f"{', ' + one['description'] if one.get('description') else ''}"
        for one in register.get("cable", [])
    ]
    yield element("ul", *(element("li", text(words)) for words in cables))
    stations: dict[tuple[str, str], list[str]] = {}
    for one in register.get("decoder", []):
        stations.setdefault((one["path"], one["box"]), []).append(str(one["station"]))
    found = [
        (
            text(f"{box['path']}: {box['box']}"),
            text(_place(box)),
            text(", ".join(stations.get((box["path"], box["box"]), [])) or "none"),
        )
        for box in register.get("box", [])
    ]
    yield table(("Path: box", "Where it is", "Stations in it"), found, ("box", "where", "stations"))


def _place(box: Mapping[str, Any]) -> str:
    """Label and location as drawn, and what was written of it on site."""
    noted = [
        one["answer"]
        for one in box.get("found", [])
        if one["title"] == "Where the box is" and "answer" in one
    ]
    return "; ".join(one for one in (described(box), *noted) if one)


def described(box: Mapping[str, Any]) -> str:
    """Label and location of a box as drawn."""
    return ", ".join(box[key] for key in ("label", "location") if key in box)


def _whom_to_call(signoffs: Sequence[SignedBy]) -> str:
    first = next((one for one in signoffs if one.signs_as == "installer"), None)
    if first is None:
        return "Call whoever looks after the system, and show them this sheet."
    company = f", {first.company}" if first.company else ""
    return (
        f"Call who installed it ({first.name}{company}) or whoever looks after the system now, and "
        "show them this sheet: its technical pages say what every cable measured when it was new."
    )


def _signed(report: Report, review: Review) -> Iterator[Html]:
    yield element("h2", text("Whom the signatures name"))
    rows = [
        tuple(
            text(words)
            for words in (
                one.decision or one.signs_as,
                f"{one.name}, {one.role}",
                one.company,
                one.licence,
                one.at,
                one.trust,
            )
        )
        for one in review.signoffs
    ]
    yield table(("As", "Name, role", "Company", "Licence", "When", "The key, here"), rows)
    remark = report["signoff"][0].get("remark", "")
    yield element("p", element("small", text(f"What a signature proves: {remark}.")))


def _receipt(report: Report, review: Review) -> Iterator[Html]:
    """The owner's receipt: what was signed, or lines to sign on paper."""
    yield element("h2", text("Receipt"))
    received = [one for one in review.signoffs if one.decision == "received"]
    if received:
        last = received[-1]
        statement = report["signoff"][last.number - 1].get("statement", "")
        yield element("p", text(f"{last.name}, {last.at}: {statement}"))
        yield element(
            "p", text(f"With this receipt in it, the file has the SHA-256 {review.sha256}")
        )
        return
    words = f"I received this report, a file with the SHA-256 {review.sha256}."
    yield element("p", text(words))
    rows = [(element("div", kind="room"),) * 3]
    yield table(("Owner's name", "Date", "Signature"), rows)
