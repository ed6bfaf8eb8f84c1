"""Reviews: what a report's bytes tell, who signed, and everything that may be done to them."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Callable
from datetime import datetime, timedelta
from math import nextafter
from pathlib import Path
from typing import Any

import pytest

from commission.electrical.sources import FORMULA_SET
from commission.report import again
from commission.report.agreement import first_apart, lines_agree
from commission.report.finding import KINDS
from commission.report.review import Review, review
from commission.user.key_text import as_text, fingerprint
from commission.user.signers import KnownSigner, KnownSigners
from commission.user.signing_key import SigningKey
from tests import walks
from tests.report import small
from tests.report.sealing import (
    FORGER,
    INSPECTOR,
    countersigned,
    resealed,
    resealed_last,
    rewritten,
)

NAME = "report.toml"
NOBODY = KnownSigners()


def knows(*signers: tuple[str, SigningKey]) -> KnownSigners:
    """Known signers by name and key."""
    return KnownSigners(
        tuple(
            KnownSigner(name, as_text(key.public_key), fingerprint(key.public_key), walks.START)
            for name, key in signers
        )
    )


INSTALLER = knows((walks.WRITER, walks.KEY))


def reviewed(content: bytes, known: KnownSigners = INSTALLER) -> Review:
    """The review of a report; every finding has words and a remedy, and can be shown."""
    found = review(content, NAME, known)
    for finding in found.findings:
        assert finding.kind in KINDS
        assert len(finding.problem.message) > 10
        assert len(finding.problem.remedy) > 10, finding
        assert str(finding.problem).isprintable()
    assert [KINDS[one.kind] for one in found.findings] == sorted(
        (KINDS[one.kind] for one in found.findings), key=list(KINDS.values()).index
    )
    return found


def kinds(found: Review) -> list[str]:
    """The kinds of a review's findings, each once."""
    return list(dict.fromkeys(one.kind for one in found.findings))


# What a report tells


def test_a_sound_report_by_a_known_signer_has_nothing_against_it() -> None:
    content = small.sound()
    found = reviewed(content)
    assert found.findings == ()
    assert (found.state, found.standing) == ("sound", "signed by known keys")
    assert (found.verdict, found.practice) == ("accepted", False)
    assert found.sha256 == hashlib.sha256(content).hexdigest()
    assert found.site == "Example corner (invented)"
    assert found.job_kind == "inspection"
    assert found.formula_set == FORMULA_SET
    assert found.report.startswith("corner-inspection-")
    (one,) = found.signoffs
    assert (one.number, one.signs_as, one.name) == (1, "installer", walks.WRITER)
    assert (one.company, one.licence) == ("Example Irrigation (invented)", "IR-0001")
    assert one.trust == "known"
    assert one.fingerprint == fingerprint(walks.KEY.public_key)
    (version,) = found.versions
    assert (version.signoffs, version.bytes, version.sha256) == (1, len(content), found.sha256)


def test_everything_that_stands_against_a_report_is_told_by_its_name() -> None:
    found = reviewed(small.troubled())
    assert (found.state, found.verdict) == ("sound", "handed over with exceptions")
    assert kinds(found) == [
        "practice", "exception", "open defect", "not done", "instrument past calibration",
    ]  # fmt: skip
    (practice,) = found.of("practice")
    assert "no report of a real site" in practice.message
    assert "fail: Path A, end B2: Loop resistance" in found.of("exception")[0].message
    (defect,) = found.of("open defect")
    assert defect.message == "D1 (does not work) box B1: bad joint"
    not_done = [problem.message for problem in found.of("not done")]
    assert "Path A, box B1: Joints: skipped: no access" in not_done
    assert "Path A, box B2: Joints: not done" in not_done
    (meter,) = found.of("instrument past calibration")
    assert "old-meter B-2: calibration was due 2030-01-31, used for one reading" in meter.message


def test_a_review_is_the_same_whoever_asks_and_wherever(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pure function of bytes, name and known signers: without a home, a clock, a folder."""
    before = review(small.troubled(), NAME, INSTALLER)
    monkeypatch.setattr("builtins.open", None)
    monkeypatch.setattr("os.environ", {})
    assert review(small.troubled(), NAME, INSTALLER) == before
    assert hash(before) == hash(review(small.troubled(), NAME, INSTALLER))


# Whose keys


def test_unknown_known_and_changed_keys_are_told_apart() -> None:
    content = small.sound()
    unknown = reviewed(content, NOBODY)
    assert kinds(unknown) == ["unknown key"]
    assert unknown.standing == "signed by keys not known here"
    assert fingerprint(walks.KEY.public_key) in unknown.of("unknown key")[0].message
    changed = reviewed(content, knows((walks.WRITER, FORGER)))
    assert kinds(changed) == ["changed key"]
    assert changed.standing == "signed by a changed key"
    elsewhere = reviewed(content, knows(("Another Name", walks.KEY)))
    assert elsewhere.signoffs[0].trust == "unknown"
    assert elsewhere.signoffs[0].known_as == "Another Name"
    assert "as the key of Another Name" in elsewhere.of("unknown key")[0].message
    same = reviewed(content, knows(("sam  SAMPLE", walks.KEY)))
    assert same.findings == ()


def test_a_further_sign_off_by_an_unknown_key_improves_nothing() -> None:
    content = countersigned(small.sound())
    for known, trusts, standing in (
        (NOBODY, ["unknown", "unknown"], "signed by keys not known here"),
        (INSTALLER, ["known", "unknown"], "signed by known keys and by keys not known here"),
        (
            knows((walks.WRITER, walks.KEY), ("Ines Look", INSPECTOR)),
            ["known", "known"],
            "signed by known keys, countersigned",
        ),
        (knows((walks.WRITER, FORGER)), ["changed key", "unknown"], "signed by a changed key"),
    ):
        found = reviewed(content, known)
        assert found.state == "sound"
        assert [one.trust for one in found.signoffs] == trusts
        assert found.standing == standing
        assert found.verdict == "accepted"
    assert [one.signoffs for one in found.versions] == [1, 2]
    assert found.versions[0].sha256 == hashlib.sha256(small.sound()).hexdigest()


def test_an_inspector_with_the_installers_key_is_told() -> None:
    found = reviewed(countersigned(small.sound(), walks.KEY, name=walks.WRITER))
    assert kinds(found) == ["same key"]
    assert "nobody else looked" in found.of("same key")[0].message


@pytest.mark.parametrize("signs_as", ["owner", "inspector", "nobody"])
def test_whoever_signs_first_is_the_installer(signs_as: str, tmp_path: Path) -> None:
    """Or the inspector of an inspection that follows no report."""
    content = signed_first_as(small.sound(), signs_as)
    found = reviewed(content)
    assert kinds(found) == ([] if signs_as == "inspector" else ["altered"])
    session = walks.begin(tmp_path, "small-garden")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    content = signed_first_as((session.job.folder / NAME).read_bytes(), signs_as)
    assert "the installer signs first" in reviewed(content).of("altered")[0].message


def signed_first_as(content: bytes, signs_as: str) -> bytes:
    """A report whose first sign-off is said to be another's, by the same key."""
    head, signs, tail = content.rpartition(b'signs_as = "installer"')
    assert signs
    return resealed(head + f'signs_as = "{signs_as}"'.encode() + tail, walks.KEY)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("at", "2001-01-01T00:00:00"),  # without its offset no order of times can be told
        ("at", "2001-01-01"),
        ("at", "2031-05-04T17:00:00.5-06:00"),
        ("at", '"yesterday"'),
        ("name", "5"),
        ("name", '" "'),
        ("role", "true"),
        ("statement", "[1, 2]"),
    ],
)
def test_a_sign_off_holds_what_the_program_writes_in_one(key: str, value: str) -> None:
    for content in (small.sound(), TWICE):
        at = content.rindex(b"[[signoff]]")
        line = re.compile(rb"(?m)^%s = .*$" % key.encode())
        block = line.sub(f"{key} = {value}".encode(), content[at:], count=1)
        found = reviewed(resealed_last(content[:at] + block, walks.KEY))
        assert found.state == "altered"
        said = [one.message for one in found.of("altered")]
        assert any(f"its '{key}' is nothing that this program" in words for words in said), said


def test_whoever_signs_first_countersigns_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not even where it can't be made again, and so nobody can tell what belongs there."""
    monkeypatch.setattr(again, "FORMULA_SET", FORMULA_SET + 1)
    inspector = signed_first_as(small.sound(), "inspector")
    decided = b'\ndecision = "countersigned"\nsigned_bytes'
    found = reviewed(resealed(inspector.replace(b"\nsigned_bytes", decided), walks.KEY))
    assert found.state == "newer formulas"
    assert "countersigned" not in found.standing


# Altered, and signed anew by another key


def altered(before: str, after: str) -> bytes:
    """The troubled report with a text replaced where it first stands, signed by a forger."""
    text = small.troubled().decode("utf-8")
    assert before in text
    return resealed(text.replace(before, after, 1).encode("utf-8"))


def entry_of(content: bytes, wanted: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """The first entry of a report that is as wanted."""
    return next(one for one in tomllib.loads(content.decode())["history"] if wanted(one))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("expected_ohm = ", "expected_ohm = 1"),
        ("measured_ohm = ", "measured_ohm = 1"),
        ('verdict = "fail"', 'verdict = "pass"'),
        ('verdict = "handed over with exceptions"', 'verdict = "accepted"'),
    ],
)
def test_one_expectation_reading_or_verdict_altered_and_signed_anew(
    before: str, after: str
) -> None:
    forged = altered(before, after)
    found = reviewed(forged, knows((walks.WRITER, FORGER)))
    assert found.state == "altered"
    assert found.standing == "not to be trusted: altered"
    (problem,) = found.of("altered")
    line = small.troubled().decode().partition(before)[0].count("\n") + 1
    assert problem.line == line
    assert "stands where the record gives" in problem.message


def is_failing_reading(entry: dict[str, Any]) -> bool:
    """Whether an entry is a reading that fails."""
    return entry.get("verdict") == "fail" and "value" in entry


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"verdict": "pass"}, "its verdict is 'pass', judged again 'fail'"),
        ({"value": 1.25}, "its value is 1.25, computed again"),
        ({"expected": 2.5}, "its expected is 2.5, computed again"),
        ({"high": 9.5}, "its high is 9.5, computed again"),
        ({"low": None}, "its low is nothing, computed again"),
        ({"relation": ">"}, "its relation is '>', judged again '='"),
        ({"unit": "kohm"}, "its unit is 'kohm', judged again 'ohm'"),
        ({"compared_with": ""}, "its compared_with is '', judged again 'loop-resistance'"),
        ({"finding": "all is well"}, "its finding is 'all is well', judged again '"),
        ({"text": "about one"}, "its text is no answer to its step"),
        ({"step": "path/Z"}, "it answers a step that this job has not: path/Z"),
        ({"instrument_percent": 40.0}, "computed again"),
        ({"warning": "all is well"}, "its warning is 'all is well', judged again ''"),
        ({"instrument_calibration_due": "2030-01-01"}, "judged again 'used past its calibration"),
    ],
)
def test_a_record_written_anew_with_its_chain_right_is_judged_again(
    changed: dict[str, Any], words: str
) -> None:
    number = entry_of(small.troubled(), is_failing_reading)["number"]
    forged = rewritten(small.troubled(), number, **changed)
    found = reviewed(forged, knows((walks.WRITER, FORGER)))
    assert found.state == "altered"
    assert found.of("signature") == found.of("record") == ()
    problem = found.of("altered")[0]
    assert problem.key == f"entry {number}"
    assert words in problem.message


def test_more_than_follows_is_found_in_the_words_of_an_entry() -> None:
    for wanted in (is_failing_reading, lambda entry: entry.get("text") == "yes"):
        entry = entry_of(small.troubled(), wanted)
        finding = entry.get("finding", "") + "; looked at again, and good"
        found = reviewed(rewritten(small.troubled(), entry["number"], finding=finding))
        assert found.state == "altered"
        assert "its finding is '" in found.of("altered")[0].message


def test_a_calibration_past_its_date_cannot_be_left_unsaid() -> None:
    """Without its warning a reading would be no exception, and the report perhaps accepted."""
    number = entry_of(small.troubled(), lambda entry: "warning" in entry)["number"]
    found = reviewed(rewritten(small.troubled(), number, warning=""))
    assert found.state == "altered"
    assert "its warning is '', judged again 'used past its calibration" in (
        found.of("altered")[0].message
    )


def test_a_calibration_date_that_is_none_makes_no_report() -> None:
    number = entry_of(small.troubled(), is_failing_reading)["number"]
    found = reviewed(rewritten(small.troubled(), number, instrument_calibration_due="soon"))
    assert found.state == "not readable"
    assert kinds(found) == ["not readable", "altered"]


def test_a_job_begun_with_other_formulas_has_answers_that_are_not_judged_again() -> None:
    """Whoever writes another number there escapes no judgement unsaid."""
    number = entry_of(small.troubled(), is_failing_reading)["number"]
    header = {"formula_set": FORMULA_SET + 1}
    found = reviewed(rewritten(small.troubled(), number, header=header, verdict="pass"))
    assert found.state == "newer formulas"
    assert found.standing.endswith("not made again here: other formulas")
    (problem,) = found.of("newer formulas")
    assert "what its readings mean is not judged again here" in problem.message


def test_words_of_an_entry_by_another_version_are_told_and_its_numbers_are_judged() -> None:
    number = entry_of(small.troubled(), is_failing_reading)["number"]
    header = {"program": "0.0.9"}
    assert reviewed(rewritten(small.troubled(), number, header=header)).state == "sound"
    worded = rewritten(small.troubled(), number, header=header, finding="all is well")
    found = reviewed(worded)
    assert found.state == "another version"
    (problem,) = found.of("another version")
    assert problem.key == f"entry {number}"
    assert "are not those of this one" in problem.message
    forged = rewritten(small.troubled(), number, header=header, verdict="pass")
    assert reviewed(forged).state == "altered"


def test_a_required_step_set_aside_is_told() -> None:
    """Marked not applicable it is no exception, and nobody did it all the same."""
    entry = entry_of(small.troubled(), lambda entry: entry["type"] == "skip")
    aside = rewritten(small.troubled(), entry["number"], type="not-applicable")
    told = [problem.message for problem in reviewed(aside).of("not done")]
    assert "Path A, box B1: Joints: marked not applicable: no access" in told
    assert not any("skipped" in words for words in told)


def test_a_record_written_anew_as_it_was_is_sound() -> None:
    """What the forger's tool makes of an unchanged record has nothing wrong but its key."""
    again_same = rewritten(small.sound(), 1)
    assert kinds(reviewed(again_same)) == ["changed key"]


def test_times_that_go_back_are_told() -> None:
    early = walks.START - timedelta(hours=1)
    both: dict[str, Any] = {"entered_at": early, "observed_at": early}
    found = reviewed(rewritten(small.sound(), 2, walks.KEY, **both))
    assert kinds(found) == ["out of order"]
    (problem,) = found.of("out of order")
    assert problem.key == "entry 2"
    assert "entry 1 before it" in problem.message
    found = reviewed(rewritten(small.sound(), 1, walks.KEY, **both))
    assert "the job was begun before it" in found.of("out of order")[0].message
    found = reviewed(rewritten(small.sound(), 2, walks.KEY, entered_at=None))
    assert "entry 2 says no time" in found.of("out of order")[0].message
    late = walks.START + timedelta(days=2)
    found = reviewed(rewritten(small.sound(), 2, walks.KEY, observed_at=late))
    (problem,) = found.of("out of order")
    assert (problem.key, "was seen 2031-05-06" in problem.message) == ("entry 2", True)
    last = len(tomllib.loads(small.sound().decode())["history"])
    found = reviewed(rewritten(small.sound(), last, walks.KEY, entered_at=late))
    (problem,) = found.of("out of order")
    assert problem.key == "signoff 1"
    assert "before what it signs was written" in problem.message


def test_entries_that_are_missing_are_told_by_number() -> None:
    text = small.sound().decode("utf-8")
    blocks = text.split("\n[[history]]\n")
    found = reviewed(resealed("\n[[history]]\n".join(blocks[:2] + blocks[3:]).encode("utf-8")))
    assert found.state == "altered"
    assert "place 2 has another number" in found.of("out of order")[0].message
    assert found.of("record")


# Numbers and formulas


def digits(content: bytes, factor: float) -> bytes:
    """A report, signed by its signer, as a machine with another last digit would write it."""
    text = content.decode("utf-8")
    found = re.search(r"(?m)^expected_ohm = (\S+)$", text)
    assert found is not None
    number = float(found[1])
    other = nextafter(number, 1e9) if factor == 1.0 else number * factor
    assert other != number
    line = f"expected_ohm = {other!r}"
    return resealed(text.replace(found[0], line, 1).encode("utf-8"), walks.KEY)


def test_another_last_digit_is_no_alteration_and_a_ninth_digit_is() -> None:
    assert reviewed(digits(small.sound(), 1.0)).findings == ()
    assert reviewed(digits(small.sound(), 1 + 5e-10)).findings == ()
    assert kinds(reviewed(digits(small.sound(), 1 + 2e-9))) == ["altered"]


@pytest.mark.parametrize(
    ("stands", "should", "agree"),
    [
        ("a = 1.5", "a = 1.5", True),
        ("a = 1.5000000000000002", "a = 1.5", True),
        ("a = [1.5000000000000002, -2.5e-07]", "a = [1.5, -2.5000000000000005e-07]", True),
        ("a = 1.50", "a = 1.5", False),
        ("a = 1.500001", "a = 1.5", False),
        ("a = 3", "a = 4", False),
        ("a = -1.5", "a = 1.5", False),
        ("b = 1.5", "a = 1.5", False),
        ('a = "1.5000000000000002 V"', 'a = "1.5 V"', False),
        ('a = "x \\" 1.5000000000000002"', 'a = "x \\" 1.5"', False),
        ("[a.1.5000000000000002]", "[a.1.5]", False),
        ("a = 1.5 # 2.0", "a = 1.5", False),
        ("a = inf", "a = 1.5", False),
        ("a = 2031-05-04T08:00:00.5-06:00", "a = 2031-05-04T08:00:00.500-06:00", False),
    ],
)
def test_lines_agree_in_numbers_only(stands: str, should: str, agree: bool) -> None:
    assert lines_agree(stands, should) is agree


def test_values_apart_are_named_by_their_place() -> None:
    one = {"a": [{"b": 1.0, "verdict": "pass", "words": "x"}], "c": True}
    assert first_apart(one, {"a": [{"b": 1.0, "verdict": "pass", "words": "y"}], "c": True}) == ""
    assert first_apart(one, {"a": [{"b": 1.1, "verdict": "pass"}], "c": True}) == "a[1].b"
    assert first_apart(one, {"a": [{"b": 1.0, "verdict": "fail"}], "c": True}) == "a[1].verdict"
    assert first_apart(one, {"c": False}) == "c"


def test_newer_formulas_are_not_taken_for_an_alteration(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(again, "FORMULA_SET", FORMULA_SET + 1)
    found = reviewed(small.sound())
    assert found.state == "newer formulas"
    assert kinds(found) == ["newer formulas"]
    assert found.standing == "signed by known keys; not made again here: other formulas"
    found = reviewed(small.sound().replace(b"Sampleton", b"Sampletin").replace(b"Front", b"Grant"))
    assert found.state == "altered"
    assert found.of("signature")


def test_another_version_in_other_words_is_told_apart_from_other_numbers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(again, "__version__", "9.9.9")
    assert reviewed(small.sound()).findings == ()
    text = small.sound().decode("utf-8")

    worded = text.replace("# The job", "# This job", 1)
    found = reviewed(resealed(worded.encode("utf-8"), walks.KEY))
    assert found.state == "another version"
    assert kinds(found) == ["another version"]
    verdict = text.replace('verdict = "accepted"', 'verdict = "handed over with exceptions"', 1)
    found = reviewed(resealed(verdict.encode("utf-8"), walks.KEY))
    assert found.state == "altered"
    assert "verdict is another one under the same formulas" in found.of("altered")[0].message


# What is done to the bytes


def swapped_entries(content: bytes) -> bytes:
    """Entries 1 and 2 changed over."""
    parts = content.split(b"\n[[history]]\n")
    parts[1], parts[2] = parts[2], parts[1]
    return b"\n[[history]]\n".join(parts)


def swapped_signoffs(content: bytes) -> bytes:
    """The last two sign-offs changed over."""
    parts = content.split(b"\n[[signoff]]\n")
    parts[-1], parts[-2] = parts[-2], parts[-1]
    return b"\n[[signoff]]\n".join(parts)


def with_the_signature_of(content: bytes, other: bytes) -> bytes:
    """A report that ends in the last line of another one."""
    return content[: content.rindex(b"signature = ")] + other[other.rindex(b"signature = ") :]


def with_the_signoff_of(content: bytes, other: bytes) -> bytes:
    """A report that ends in the sign-off of another one."""
    return content[: content.rindex(b"[[signoff]]")] + other[other.rindex(b"[[signoff]]") :]


TWICE = countersigned(small.sound())
DONE: dict[str, tuple[bytes, str, str]] = {
    "a byte altered": (
        TWICE.replace(b"Hedge", b"Ledge"), "signature", "something before it was altered",
    ),
    "bytes put in": (TWICE.replace(b"Hedge", b"Hedges"), "signature", "bytes were put in"),
    "bytes taken out": (TWICE.replace(b"Hedge", b"edge"), "signature", "taken out before it"),
    "entries changed over": (swapped_entries(TWICE), "record", "number 2 stands where 1 should"),
    "sign-offs changed over": (swapped_signoffs(TWICE), "signature", "changed over"),
    "a key after the signature": (
        TWICE + b"paid = true\n", "signature", "bytes follow the last signature",
    ),
    "a comment after it": (TWICE + b"# ok\n", "signature", "5 bytes follow the last signature"),
    "a table between sign-offs": (
        TWICE.replace(b"\n[[signoff]]\nnumber = 2", b"\n[paid]\n\n[[signoff]]\nnumber = 2"),
        "signature", "bytes were put in",
    ),
    "a table between, signed": (
        countersigned(small.sound() + b"\n[paid]\nall = true\n"),
        "signature", "something was added",
    ),
    "a moved signature": (
        with_the_signature_of(small.sound(), small.troubled()), "signature", "does not hold",
    ),
    "a moved sign-off": (
        with_the_signoff_of(small.sound(), small.troubled()), "signature", "another report",
    ),
    "an unsigned block": (TWICE[: TWICE.rindex(b"signed_bytes")], "signature", "no signature"),
    "line ends": (TWICE.replace(b"\n", b"\r\n"), "line ends", "line ends were changed"),
    "cut in its body": (TWICE[:4000], "not readable", "cut off"),
    "cut in its last line": (TWICE[:-10], "not readable", "cut off"),
    "nothing left": (b"", "not readable", "its kind is not"),
    "no text": (b"\xff" + TWICE, "not readable", "not UTF-8"),
    "no sign-off": (
        re.sub(rb"(?s)\n\[\[signoff\]\].*", b"\n", TWICE), "not readable", "cut off",
    ),
    "empty sign-offs": (
        b"signoff = []\n" + re.sub(rb"(?s)\n\[\[signoff\]\].*", b"\n", TWICE),
        "not readable", "cut off",
    ),
    "a newer format": (
        TWICE.replace(b"format = 1", b"format = 2", 1), "not readable", "format 2 is newer",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", DONE)
def test_what_is_done_to_a_report_has_its_own_words(case: str) -> None:
    content, kind, words = DONE[case]
    found = reviewed(content, knows((walks.WRITER, walks.KEY), ("Ines Look", INSPECTOR)))
    assert words in found.of(kind)[0].message, found.problems
    if kind == "line ends":
        assert found.state == "sound"
        assert found.standing == "signed by known keys, countersigned"
    elif kind == "not readable":
        assert found.state == found.standing == "not readable"
        assert not found.signoffs
    else:
        assert found.state == "altered"
        assert found.standing == "not to be trusted: altered"


def test_a_cut_exactly_at_a_boundary_cannot_be_seen_in_the_file() -> None:
    """It is a sound report with fewer sign-offs; a digest or a register tells."""
    end = reviewed(TWICE).versions[0].bytes
    assert TWICE[:end] == small.sound()
    assert reviewed(TWICE[:end]).findings == ()


def test_a_report_that_follows_another_names_its_digest() -> None:
    """The key is read where it stands, whatever else the record's header holds."""
    digest = "ab" * 32
    text = small.sound().decode("utf-8")
    text = text.replace("[record]\n", f'[record]\nfollows_report = "{digest}"\n', 1)
    found = review(resealed(text.encode("utf-8"), walks.KEY), NAME, INSTALLER)
    assert found.follows == digest
    assert reviewed(small.sound()).follows == ""


def test_times_of_sign_offs_are_told_as_they_stand() -> None:
    (one,) = reviewed(small.sound()).signoffs
    assert datetime.fromisoformat(one.at) == walks.signoff().at
