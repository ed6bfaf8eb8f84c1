"""Reports signed anew after something in them was altered: what a forger with a key would do."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import datetime, timedelta, timezone
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from commission.electrical.sources import FORMULA_SET
from commission.job import Job
from commission.record.codec import digest_of, encode_entry, encode_header
from commission.record.entry import Entry
from commission.record.replay import replay
from commission.report.again import job_of, signoff_of, unsealed
from commission.report.document import report_bytes
from commission.report.history import entries_of, header_of
from commission.report.inspection import inspection_bytes
from commission.report.layout import toml_text
from commission.report.receipt import receipt_bytes, received_statement
from commission.report.seal import as_text, fingerprint, sealed
from commission.report.signoff import SignOff
from commission.user.signing_key import SigningKey

FORGER = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes(range(100, 132))))
INSPECTOR = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes(range(50, 82))))


def resealed(content: bytes, key: SigningKey = FORGER) -> bytes:
    """A report of one sign-off, altered or not, signed by another key; its lines keep places."""
    return _by(unsealed(content), key)


def resealed_last(content: bytes, key: SigningKey = FORGER) -> bytes:
    """A report of several sign-offs, altered or not, its last one by another key."""
    return _by(content[: content.rindex(b"\nsigned_bytes = ") + 1], key)


def counted_early(content: bytes, more: bytes, key: SigningKey = FORGER) -> bytes:
    """A report of one sign-off with more after its count, and the count once more as a remark."""
    above, count = unsealed(content), 0
    for _ in range(3):  # the count counts its own digits
        line = b"signed_bytes = %d\n" % count
        covered = above + line + more + b"# " + line
        count = len(covered)
    return covered + b'signature = "%s"\n' % as_text(key.sign(covered)).encode("ascii")


def _by(content: bytes, key: SigningKey) -> bytes:
    bare = content.decode("utf-8", "surrogateescape")
    for name, text in (
        ("public_key", as_text(key.public_key)), ("fingerprint", fingerprint(key.public_key)),
    ):  # fmt: skip
        start = bare.rindex(f"\n{name} = ")
        bare = bare[:start] + re.sub(r'"[^"]*"', f'"{text}"', bare[start:], count=1)
    return sealed(bare.encode("utf-8", "surrogateescape"), key)


def rewritten(
    content: bytes,
    number: int,
    key: SigningKey = FORGER,
    header: Mapping[str, Any] | None = None,
    **changed: Any,
) -> bytes:
    """A report whose entry `number` says something else, and everything else follows from that.

    `header`: what the header of its record says else. The chain's digests are made anew, and the
    body is what the program makes of the record: what a forger does who has the program.
    """
    report = tomllib.loads(content.decode("utf-8"))
    top = replace(header_of(report), **(header or {}))
    digest = digest_of(encode_header(top))
    entries = []
    for entry in entries_of(report):
        told = replace(entry, **changed) if entry.number == number else entry
        told = replace(told, previous=digest)
        digest = digest_of(encode_entry(told))
        entries.append(replace(told, sha256=digest))
    job = replace(job_of(report, "report.toml"), header=top, state=replay(entries))
    signoff = replace(signoff_of(report), public_key=as_text(key.public_key))
    return sealed(report_bytes(job, signoff, top.program), key)


def with_files(content: bytes, site: str, checklist: str) -> bytes:
    """A report made from other files, its digests and chain right, signed by a forger.

    What stands above the record is left as it was: it need not follow from these files.
    """
    report = tomllib.loads(content.decode("utf-8"))
    digests = [hashlib.sha256(text.encode("utf-8")).hexdigest() for text in (site, checklist)]
    header = replace(header_of(report), site_sha256=digests[0], checklist_sha256=digests[1])
    files = {"site": site, "checklist": checklist}
    return _recorded(content, report["record"] | asdict(header), files, entries_of(report))


def with_record(content: bytes, entries: Sequence[Entry]) -> bytes:
    """A report with another record, its numbers and chain right, signed by a forger.

    What stands above the record is left as it was.
    """
    report = tomllib.loads(content.decode("utf-8"))
    numbered = [replace(entry, number=n) for n, entry in enumerate(entries, start=1)]
    return _recorded(content, report["record"], report["files"], numbered)


def _recorded(
    content: bytes, record: Mapping[str, Any], files: Mapping[str, str], entries: Sequence[Entry]
) -> bytes:
    digest = first = digest_of(encode_header(header_of({"record": record})))
    blocks = []
    for entry in entries:
        block = encode_entry(replace(entry, previous=digest))
        digest = digest_of(block)
        blocks.append(b"\n" + block.replace(b"[[entry]]", b"[[history]]", 1))
    record = {**record, "sha256": first, "last_sha256": digest}
    below = {"record": record, "files": files}
    signoff = content[content.rindex(b"\n[[signoff]]") :]
    head = content[: content.index(b"\n[record]\n") + 1]
    return resealed(head + toml_text(below, {}).encode("utf-8") + b"".join(blocks) + signoff)


def countersigned(
    content: bytes,
    key: SigningKey = INSPECTOR,
    signs_as: str = "inspector",
    name: str = "Ines Look",
) -> bytes:
    """A report with an inspection that found the same, or the owner's receipt; names invented."""
    report = tomllib.loads(content.decode("utf-8"))
    owner = signs_as == "owner"
    signed = SignOff(
        role=signs_as,
        name=name,
        company="Example Inspections (invented)",
        licence="IN-0002",
        statement=received_statement(content) if owner else "Seen.",
        at=datetime(2031, 5, 5, 10, tzinfo=timezone(timedelta(hours=-6))),
        signs_as="owner" if owner else "inspector",
        public_key=as_text(key.public_key),
        decision="received" if owner else "countersigned",
    )
    number = len(report["signoff"]) + 1
    if owner:
        return sealed(receipt_bytes(content, number, report["report"], signed), key)
    return sealed(inspection_bytes(content, number, inspected(content), signed), key)


def inspected(
    content: bytes, told: Mapping[int, Entry] | None = None, formula_set: int = FORMULA_SET
) -> Job:
    """An inspection of a report whose record says the same as the report's, chained anew.

    `told` puts other entries in the place of some, by place from 0.
    """
    report = tomllib.loads(content.decode("utf-8"))
    earlier = job_of(report, "report.toml")
    digest = hashlib.sha256(content).hexdigest()
    name = earlier.header.job.replace("0", "1")
    header = replace(
        earlier.header, job=name, job_kind="inspection", follows_report=digest,
        formula_set=formula_set,
    )  # fmt: skip
    last = digest_of(encode_header(header))
    entries = []
    for place, entry in enumerate(earlier.state.entries):
        chained = replace((told or {}).get(place, entry), previous=last)
        last = digest_of(encode_entry(chained))
        entries.append(replace(chained, sha256=last))
    return replace(earlier, header=header, state=replay(entries), earlier_job=lambda: earlier)
