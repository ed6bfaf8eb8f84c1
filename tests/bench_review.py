"""How long a review takes beside what no review can do without: python -m tests.bench_review.

Reports of sixty stations with their whole history, each another one: other times, names, digests
and signature. The floor of a report is its TOML parsed by tomllib, its Ed25519 signature verified,
and the site and the checklist inside it validated by pydantic. A review parses the same TOML with
the same parser, and then computes every expectation, verdict and line of the report once more; it
keeps nothing from one report to the next. Printed are ratios from one run: floor over review, two
processes over one, and how the memory grew.

`--reports N` for another number than 100. Parsers of TOML that the program does not use have a row
of their own where they can be imported: floor and review with that parser in tomllib's place.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import timedelta
from importlib import import_module
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from commission.checklist.load import parse_checklist
from commission.job import Job
from commission.record.chain import chained
from commission.record.codec import digest_of, encode_header
from commission.record.replay import replay
from commission.report.document import report_bytes
from commission.report.review import review
from commission.report.seal import as_text, seal_problems, sealed
from commission.site.load import parse_site
from commission.user.signers import KnownSigners
from tests import walks

NAME = "report.toml"
OTHER_PARSERS = ("tomli", "rtoml")  # compiled ones, with the same `loads`


def walked() -> Job:
    """A whole commissioning of the site of sixty boxes, everything as expected."""
    with TemporaryDirectory() as folder:
        session = walks.begin(Path(folder), "sixty-boxes")
        walks.walk_to_the_end(session)
        session.close()
        return session.job


def reports(job: Job, count: int) -> Iterator[bytes]:
    """So many reports of that job, each with times, names, digests and signature of its own."""
    for number in range(count):
        later = timedelta(minutes=number)
        header = replace(
            job.header,
            job=f"{job.header.job}-{number}", created_at=job.header.created_at + later,
        )  # fmt: skip
        moved = []
        for entry in job.state.entries:
            assert entry.entered_at is not None
            assert entry.observed_at is not None
            own = replace(
                entry, sha256="", previous="", observed_by=f"Observer {number}",
                entered_at=entry.entered_at + later, observed_at=entry.observed_at + later,
            )  # fmt: skip
            moved.append(own)
        digest, entries = digest_of(encode_header(header)), []
        for place, entry in enumerate(moved):
            _, (whole,) = chained([entry], place, digest)
            entries.append(whole)
            digest = whole.sha256
        other = replace(job, header=header, state=replay(entries))
        signoff = replace(walks.signoff(), public_key=as_text(walks.KEY.public_key))
        yield sealed(report_bytes(other, signoff), walks.KEY)


def floor(content: bytes) -> None:
    """What no review can do without."""
    report = tomllib.loads(content.decode("utf-8"))
    assert not seal_problems(content, report, NAME)
    parse_site(report["files"]["site"].encode("utf-8"), NAME)
    parse_checklist(report["files"]["checklist"].encode("utf-8"), NAME)


def reviewed(content: bytes) -> None:
    """A whole review, which must find the report sound."""
    found = review(content, NAME, KnownSigners())
    assert found.state == "sound", found.findings


def seconds(act: Callable[[bytes], None], contents: list[bytes]) -> float:
    """Processor seconds of one pass."""
    begun = time.process_time()
    for content in contents:
        act(content)
    return time.process_time() - begun


def with_other_parsers(contents: list[bytes]) -> Iterator[str]:
    """A row for each other parser of TOML that is here."""
    texts = [content.decode("utf-8") for content in contents]

    def parsing() -> float:
        begun = time.process_time()
        for text in texts:
            tomllib.loads(text)
        return time.process_time() - begun

    usual = parsing()
    for name in OTHER_PARSERS:
        try:
            loads = import_module(name).loads
        except ImportError:
            continue
        with patch.object(tomllib, "loads", loads):
            quicker = usual / parsing()
            try:
                needed, taken = (
                    seconds(act, contents) / len(contents) for act in (floor, reviewed)
                )
            except AssertionError:
                yield f"with {name}: {quicker:.1f} times as quick, and sound reports are refused"
                continue
        yield (
            f"with {name}, {quicker:.1f} times as quick as tomllib: floor {needed:.3f} s, review "
            f"{taken:.3f} s: ratio {needed / taken:.2f}"
        )


def elapsed(processes: int, contents: list[bytes]) -> float:
    """Seconds by the clock with so many processes; they are started before."""
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        list(pool.map(reviewed, contents[:processes] * 2))
        begun = time.perf_counter()
        list(pool.map(reviewed, contents, chunksize=4))
        return time.perf_counter() - begun


def peak_mb() -> float:
    """The most memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (
        1 if sys.platform == "darwin" else 1024
    )


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    options.add_argument("--reports", type=int, default=100)
    count = max(options.parse_args().reports, 8)
    contents = list(reports(walked(), count))
    stations, size = 60, sum(map(len, contents)) / count / 1e6
    print(f"{count} reports of {stations} stations, {size:.2f} MB each")
    reviewed(contents[0])
    seconds(reviewed, contents[: count // 4])
    early = peak_mb()
    needed, taken = seconds(floor, contents), seconds(reviewed, contents)
    print(f"floor {needed / count:.3f} s, review {taken / count:.3f} s: ratio {needed / taken:.2f}")
    print(f"memory: {early:.0f} MB after a quarter, {peak_mb():.0f} MB after all twice")
    for row in with_other_parsers(contents[:50]):
        print(row)
    one, two = elapsed(1, contents), elapsed(2, contents)
    print(
        f"two processes {one / two:.2f} times one: {count / one:.1f} and {count / two:.1f} a second"
    )


if __name__ == "__main__":
    main()
