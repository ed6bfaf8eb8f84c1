"""The register of reports seen: the longest stays, and nothing else takes its place."""

from __future__ import annotations

import hashlib
import sys
from datetime import datetime, timedelta, timezone

import pytest

from commission.problems import InputRefused
from commission.user import seen_reports
from commission.user.seen_reports import (
    SeenReport,
    SeenVersion,
    keep_seen,
    load_seen,
    seen_file,
    with_seen,
)

NOW = datetime(2031, 5, 4, 8, tzinfo=timezone(timedelta(hours=-6)))
FIRST, WHOLE = b"first signature\n", b"first signature\nsecond signature\n"


def version(content: bytes, signoffs: int) -> SeenVersion:
    """A version of a report."""
    return SeenVersion(signoffs, len(content), hashlib.sha256(content).hexdigest())


ONE, BOTH = [version(FIRST, 1)], [version(FIRST, 1), version(WHOLE, 2)]


def test_nothing_was_seen_at_first_and_what_is_kept_comes_back() -> None:
    assert load_seen() == {}
    seen = with_seen({}, "job-1", BOTH, WHOLE, NOW)
    keep_seen(seen)
    assert load_seen() == seen == {"job-1": SeenReport("job-1", NOW, tuple(BOTH))}
    if sys.platform != "win32":
        assert seen_file().stat().st_mode & 0o077 == 0


def test_the_longest_stays() -> None:
    first = with_seen({}, "job-1", ONE, FIRST, NOW)
    both = with_seen(first, "job-1", BOTH, WHOLE, NOW)
    assert both["job-1"].longest == version(WHOLE, 2)
    assert with_seen(both, "job-1", ONE, FIRST, NOW) == both
    assert both["job-1"].is_earlier(version(FIRST, 1).sha256) == version(FIRST, 1)
    assert both["job-1"].is_earlier(version(WHOLE, 2).sha256) is None


def test_another_file_never_takes_the_place_of_the_one_seen_first() -> None:
    seen = with_seen({}, "job-1", ONE, FIRST, NOW)
    other = b"another, and a longer one at that\n"
    assert with_seen(seen, "job-1", [version(other, 1)], other, NOW) == seen


def test_those_seen_longest_ago_are_left_out_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(seen_reports, "MAX_SEEN", 3)
    seen: dict[str, SeenReport] = {}
    for number in range(5):
        seen = with_seen(seen, f"job-{number}", ONE, FIRST, NOW + timedelta(days=number))
    keep_seen(seen)
    assert sorted(load_seen()) == ["job-2", "job-3", "job-4"]


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("signoffs = 1", "signoffs = 0", "signoffs"),
        ('sha256 = "', 'sha256 = "x', "sha256"),
        ("[[seen.version]]", "[[seen.vision]]", "nearest valid: version"),
        ("format = 1", "format = 2", "newer than this program"),
    ],
)
def test_a_broken_register_is_said(before: str, after: str, words: str) -> None:
    keep_seen(with_seen({}, "job-1", ONE, FIRST, NOW))
    text = seen_file().read_text("utf-8")
    assert before in text
    seen_file().write_text(text.replace(before, after), "utf-8")
    with pytest.raises(InputRefused, match=words):
        load_seen()
