"""The record inside the report: header, entries and both files, so that all can be checked again.

An entry's block reads as in the record, but for its first line: `[[history]]` instead of the
record's own. Put back, the digests and the chain are those of the record.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any

from commission.job import Job
from commission.problems import Problem
from commission.record import codec
from commission.record.chain import Links
from commission.record.entry import Entry, Header

HISTORY_LINE = b"[[history]]"
HOW = (
    "each [[history]] block is an entry of the record: with [[entry]] as its first line, and "
    "without its last line, its bytes have the SHA-256 that its last line names"
)


def record_table(job: Job) -> dict[str, Any]:
    """The record's header, its digest, and the digest of its last entry."""
    entries = job.state.entries
    header = {key: value for key, value in asdict(job.header).items() if value != ""}
    return {
        **header,
        "sha256": codec.digest_of(codec.encode_header(job.header)),
        "entries": len(entries),
        "last_sha256": entries[-1].sha256 if entries else "",
        "remark": HOW,
    }


def entry_tables(job: Job) -> list[dict[str, Any]]:
    """Every entry with all that it says, its digests included."""
    return [
        {key: value for key, value in asdict(entry).items() if value not in ("", None)}
        for entry in job.state.entries
    ]


def history_text(
    job: Job, first_line: bytes = HISTORY_LINE, blocks: Sequence[bytes] | None = None
) -> str:
    """The same entries as TOML, byte for byte as they stand in the record but for a first line.

    `blocks` are the entries as the record has them, where they are at hand.
    """
    if blocks is None:
        blocks = [codec.encode_entry(entry) for entry in job.state.entries]
    head, first = codec.ENTRY_LINE.rstrip(), b"\n" + first_line
    return b"".join(first + block.removeprefix(head) for block in blocks).decode("utf-8")


def files_table(job: Job) -> dict[str, str]:
    """The exact texts of the site file and the checklist."""
    return {"site": job.site_text, "checklist": job.checklist_text}


def entries_of(report: Mapping[str, Any]) -> tuple[Entry, ...]:
    """The entries of a report; a key that no entry has is a TypeError."""
    return tuple(Entry(**table) for table in report.get("history", []))


def header_of(report: Mapping[str, Any]) -> Header:
    """The record's header as a report holds it."""
    record = report["record"]
    if "follows_report" not in record:
        record = {**record, "follows_report": ""}
    return Header(**{field.name: record[field.name] for field in fields(Header)})


def file_problems(report: Mapping[str, Any], name: str) -> list[Problem]:
    """Both embedded files must have the digests that the record's header names."""
    return [
        Problem(name, "the text differs from what the job was made from", f"files.{key}")
        for key in ("site", "checklist")
        if hashlib.sha256(report["files"][key].encode("utf-8")).hexdigest()
        != report["record"][f"{key}_sha256"]
    ]


@dataclass(frozen=True, slots=True)
class History:
    """The entries of a report, their blocks as the record has them, and what is wrong in words.

    Where something is wrong the blocks end.
    """

    entries: tuple[Entry, ...]
    blocks: tuple[bytes, ...]
    wrong: str  # "" where the chain holds


def history_of(report: Mapping[str, Any]) -> History:
    """The history of a report, each entry written once more and the chain followed."""
    entries = entries_of(report)
    return _followed(report, ((entry, codec.encode_entry(entry)) for entry in entries), entries)


def history_read(report: Mapping[str, Any], blocks: Sequence[bytes]) -> History:
    """The same from an entry's blocks as the record has them. Raises ValueError for another."""
    entries = tuple(codec.decode_entry(block) for block in blocks)
    return _followed(report, zip(entries, blocks, strict=True), entries)


def _followed(
    report: Mapping[str, Any], written: Iterable[tuple[Entry, bytes]], entries: tuple[Entry, ...]
) -> History:
    """Entries with their blocks, put to the chain that begins with the record's header."""
    header = codec.encode_header(header_of(report))
    if codec.digest_of(header) != report["record"]["sha256"]:
        return History((), (), "the record's header was altered: its digest does not match")
    links, blocks = Links(codec.digest_of(header)), list[bytes]()
    wrong = ""
    for number, (entry, block) in enumerate(written, start=1):
        if codec.digest_of(block) != entry.sha256:
            wrong = f"entry {entry.number} was altered: its digest does not match"
            break
        try:
            links.take(entry)
        except ValueError as error:
            wrong = f"entry {number}: {error}"
            break
        blocks.append(block)
    if not wrong and (
        links.cut_short or (entries and links.digest != report["record"]["last_sha256"])
    ):
        wrong = "the last entries are missing"
    return History(entries, tuple(blocks), wrong)
