"""A timestamp token (RFC 3161) beside a report, checked by the openssl program.

A token says that some bytes existed at a time, on the word of an authority. Only the authority
whose certificate the user names is trusted, nothing that came with the system.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from commission.problems import Problem
from commission.report.beside import Added
from commission.report.finding import TIMESTAMP, Finding
from commission.report.reading import as_written
from commission.report.review import Review
from commission.text import visible

ENDING = ".tsr"
MAX_TOKEN_BYTES = 1_000_000
_SECONDS = 20
_TIME = re.compile(r"^Time stamp: (.{1,60})$", re.MULTILINE)


def timestamp_beside(review: Review, content: bytes, path: Path, authority: Path | None) -> Added:
    """What the token beside a report says; `authority` is a file of certificates to trust."""
    token = path.with_name(path.name + ENDING)
    if not _is_token(token):
        said = (f"no timestamp token {token.name} lies beside it",) if authority else ()
        return Added(notes=tuple(visible(one) for one in said))
    if authority is None:
        words = "a timestamp token lies beside it, not checked: --tsa-ca FILE names whom to trust"
        return Added(notes=(words,))
    openssl = shutil.which("openssl")
    if openssl is None:
        return _finding(review, "it could not be checked: the program openssl is not here")
    why, whole = "the token does not hold", as_written(content, review.name)[0]
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder, "signed.bin")
        for signoffs, part in _parts(review, whole):
            data.write_bytes(part)
            why = _refused(openssl, data, token, authority)
            if not why:
                all_of_it = len(part) == len(whole)
                covers = "all of it" if all_of_it else f"it up to sign-off {signoffs}"
                words = f"timestamped {_time(openssl, token)}, by whom {authority} names: {covers}"
                return Added(notes=(visible(words),))
    return _finding(review, f"its timestamp token does not hold for it: {why}")


def _is_token(token: Path) -> bool:
    try:
        return token.is_file() and token.stat().st_size <= MAX_TOKEN_BYTES
    except OSError:
        return False


def _finding(review: Review, words: str) -> Added:
    remedy = "ask for the token again, or leave it out: it proves nothing here"
    return Added((Finding(TIMESTAMP, Problem(review.name, words, "timestamp", remedy=remedy)),))


def _parts(review: Review, content: bytes) -> Iterator[tuple[int, bytes]]:
    """The report, then as it was after each earlier sign-off, the longest first."""
    yield len(review.signoffs), content
    for version in reversed(review.versions):
        if version.bytes != len(content):
            yield version.signoffs, content[: version.bytes]


def _refused(openssl: str, data: Path, token: Path, authority: Path) -> str:
    """Why a token does not hold for some bytes; "" when it does."""
    run = _run(
        openssl, "ts", "-verify", "-data", str(data), "-in", str(token.absolute()),
        "-CAfile", str(authority.absolute()),
    )  # fmt: skip
    if run is None:
        return "openssl did not end in time"
    if run.returncode == 0 and "Verification: OK" in run.stdout + run.stderr:
        return ""
    return _reason(run.stderr)


def _reason(stderr: str) -> str:
    """The reason in openssl's lines of error: thread:error:code:library:function:reason:..."""
    parts = [line.split(":") for line in stderr.splitlines() if ":error:" in line]
    reasons = [part[5] for part in parts if len(part) > 5]
    return visible(reasons[0], 100) if reasons else "openssl gives no reason"


def _time(openssl: str, token: Path) -> str:
    run = _run(openssl, "ts", "-reply", "-in", str(token.absolute()), "-text")
    found = _TIME.search(run.stdout) if run else None
    return visible(found[1]) if found else "at a time that openssl does not tell"


def _run(*command: str) -> subprocess.CompletedProcess[str] | None:
    try:
        return subprocess.run(
            command, capture_output=True, text=True, errors="replace", check=False,
            timeout=_SECONDS, stdin=subprocess.DEVNULL,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired):
        return None
