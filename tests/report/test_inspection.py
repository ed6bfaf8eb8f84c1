"""Inspections of a signed report: walked, countersigned or refused, altered, received."""

from __future__ import annotations

import hashlib
import os
import random
import re
import shutil
import subprocess
import tomllib
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from commission.cli import main
from commission.crew import Hands
from commission.host import Disk
from commission.opening import open_job, read_job
from commission.problems import InputRefused, StepRefused
from commission.report.examined import examined, report_problems
from commission.report.inspection import inspection_bytes
from commission.report.receipt import receipt_bytes, received_statement
from commission.report.review import Review, review
from commission.report.seal import as_text, fingerprint, sealed
from commission.report.signoff import Decision, SignOff
from commission.sampling import sample_size
from commission.session import Session
from commission.site.changes.kinds import Length
from commission.user.signers import KnownSigner, KnownSigners
from commission.user.signing_key import SigningKey
from tests import walks
from tests.report.sealing import FORGER, INSPECTOR, inspected, resealed_last
from tests.report.years import EARTH, OTHER_METER, Answer, off

NAME = "report.toml"
INES = "Ines Look"  # invented
LOOP = "path/A/end/B6/loop-resistance"  # of the longest end
README = Path(__file__).parents[2] / "README.md"


def said(decision: Decision = "countersigned", reasons: str = "") -> SignOff:
    """An invented inspector's sign-off."""
    one = replace(walks.signoff(), name=INES, role="inspector", statement="I inspected it.")
    return replace(one, signs_as="inspector", decision=decision, reasons=reasons)


def receipt(content: bytes) -> SignOff:
    """An invented owner's receipt."""
    one = replace(walks.signoff(), name="Olga Owner", role="owner", licence="none")
    return replace(one, signs_as="owner", statement=received_statement(content))


@lru_cache
def installed() -> bytes:
    """A signed report of the small garden, everything in order."""
    with TemporaryDirectory() as folder:
        session = walks.begin(Path(folder), "small-garden")
        walks.walk_to_the_end(session)
        session.sign(walks.signoff(), walks.KEY)
        session.close()
        return (session.job.folder / NAME).read_bytes()


def begun(folder: Path, content: bytes | None = None) -> Session:
    """An inspection of a report, somebody else at work with another meter."""
    path = folder / "handed over.toml"
    path.write_bytes(content or installed())
    session = open_job(path, kind="inspection", disk=Disk(), now=walks.clock())
    session.crew.take(Hands(observed_by=INES, entered_by=INES, instrument=OTHER_METER))
    return session


def walked(folder: Path, answers: dict[str, Answer] | None = None) -> Session:
    """An inspection walked as it is proposed, well but for some answers."""
    session = begun(folder)
    while (step := walks.first_open(session)) is not None:
        if step.item.offers == "sample" and step.item.answer == "choose":
            walks.answer(session, step, session.sample.proposed(step))
            continue
        wanted = (answers or {}).get(step.id, walks.good_answer(session, step))
        assert wanted is not None
        walks.answer(session, step, wanted if isinstance(wanted, str) else wanted(session, step))
    return session


@lru_cache
def countersigned() -> bytes:
    """The same report, inspected and countersigned."""
    with TemporaryDirectory() as folder:
        session = walked(Path(folder))
        session.sign(said(), INSPECTOR)
        session.close()
        return (session.job.folder / NAME).read_bytes()


def knows(*names: tuple[str, SigningKey]) -> KnownSigners:
    """Signers whose keys are known."""
    return KnownSigners(
        tuple(
            KnownSigner(name, as_text(k.public_key), fingerprint(k.public_key), walks.START)
            for name, k in names
        )
    )


BOTH = knows((walks.WRITER, walks.KEY), (INES, INSPECTOR))


def kinds(found: Review) -> list[str]:
    """The kinds of what was found, but that it is practice."""
    return [one.kind for one in found.findings if one.kind != "practice"]


def test_a_countersigned_report_holds_and_the_first_one_stands_in_it_unchanged() -> None:
    content = countersigned()
    assert report_problems(content, NAME) == []
    assert content.startswith(installed())
    report = tomllib.loads(content.decode("utf-8"))
    assert [one["signs_as"] for one in report["signoff"]] == ["installer", "inspector"]
    (inspection,) = report["inspection"]
    digest = hashlib.sha256(installed()).hexdigest()
    assert report["signoff"][1]["follows_sha256"] == digest
    assert inspection["record"]["follows_report"] == digest
    assert (inspection["verdict"], inspection["differ"]) == ("accepted", 0)
    rows = {row["step"]: row for row in inspection["comparison"]}
    assert inspection["agree"] == sum(row.get("agrees", False) for row in rows.values())
    for step in (LOOP, EARTH):
        row = rows[step]
        assert row["agrees"] is True
        assert row["e_n"] == pytest.approx(0.0, abs=1e-3)
        assert row["installer"] == row["inspector"]
        assert row["installer_verdict"] == row["inspector_verdict"] == "pass"


def test_the_sample_can_be_drawn_again_from_the_report_alone(tmp_path: Path) -> None:
    """By hand: SHA-256 of digest, id and station, in order; the first of them are the sample."""
    first = walks.begin(tmp_path, "two-paths")
    first.sign(walks.signoff(), walks.KEY)
    first.close()
    earlier = (first.job.folder / NAME).read_bytes()
    session = begun(tmp_path, earlier)
    step = walks.first(session, lambda step: step.item.id == "sample")
    walks.walk_until(session, step)
    walks.answer(session, step, session.sample.words)
    session.sign(said(), INSPECTOR)
    session.close()

    report = tomllib.loads((session.job.folder / NAME).read_text("utf-8"))
    (inspection,) = report["inspection"]
    stations = {
        one["id"]: one["number"] for one in tomllib.loads(report["files"]["site"])["station"]
    }
    head = f"{hashlib.sha256(earlier).hexdigest()} {inspection['record']['job']}"
    order = sorted(stations, key=lambda one: hashlib.sha256(f"{head} {one}".encode()).hexdigest())
    numbers = sorted(stations[one] for one in order[: sample_size(len(stations))])
    assert len(numbers) < len(stations)
    (entered,) = [one["text"] for one in inspection["history"] if one.get("step") == step.id]
    assert f"; stations {', '.join(map(str, numbers))};" in entered


def test_photos_of_both_are_checked_each_in_its_own_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Photos of both jobs have the same name; the one beside the report is meant."""
    first = walks.begin(tmp_path, "small-garden")
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"the installer's, invented")
    first.attach(first.job.plan.steps[0], photo)
    first.sign(walks.signoff(), walks.KEY)
    first.close()
    session = begun(tmp_path, (first.job.folder / NAME).read_bytes())
    photo.write_bytes(b"the inspector's, invented")
    session.attach(session.job.plan.steps[0], photo)
    session.sign(said(), INSPECTOR)
    session.close()
    folder = session.job.folder

    def told(where: Path) -> str:
        main(["review", str(where / NAME)])
        return capsys.readouterr().out

    assert "photos and documents beside it: 1, unchanged" in told(folder)
    assert "photos and documents of another job: 1, not beside it, not checked" in told(folder)
    (kept,) = (folder / "evidence").iterdir()
    kept.write_bytes(b"the installer's, invented")
    assert "it was changed: its digest is not the one in the report" in told(folder)
    kept.unlink()
    assert f"{kept.name}: it is missing" in told(folder)
    # The countersigned report given back to the installer: beside it lie the installer's photos.
    (first.job.folder / NAME).write_bytes((folder / NAME).read_bytes())
    assert "photos and documents beside it: 1, unchanged" in told(first.job.folder)
    (theirs,) = (first.job.folder / "evidence").iterdir()
    theirs.write_bytes(b"the inspector's, invented")
    assert "it was changed" in told(first.job.folder)
    assert "photos and documents are not beside it" in told(put_alone(tmp_path, folder / NAME))


def put_alone(folder: Path, report: Path) -> Path:
    """A folder that holds a report and nothing else."""
    alone = folder / "alone"
    alone.mkdir()
    (alone / NAME).write_bytes(report.read_bytes())
    return alone


def test_it_is_the_report_of_the_inspections_own_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = walked(tmp_path)
    folder = session.job.folder
    session.sign(said(), INSPECTOR)
    assert session.job.signed
    with pytest.raises(StepRefused, match="never re-opened"):
        session.sign(said(), INSPECTOR)
    session.close()
    assert read_job(folder, Disk()).signed
    assert main(["check", str(folder)]) == 0
    assert main(["report", str(folder)]) == 0
    assert f"countersigned by {INES}, inspector" in capsys.readouterr().out
    record = (folder / "record.toml").read_bytes()
    content = (folder / NAME).read_bytes()
    blocks = record[record.index(b"\n[[entry]]\n") :]
    assert blocks.replace(b"\n[[entry]]\n", b"\n[[inspection.history]]\n") in content
    (folder / "record.toml").write_bytes(record[: record.rindex(b"\n[[entry]]\n")])
    assert main(["check", str(folder)]) == 1
    assert "another record than the one beside it" in capsys.readouterr().out


def test_the_readmes_commands_check_the_last_signature_with_openssl_alone(tmp_path: Path) -> None:
    """The documented block accepts the countersignature, and refuses an altered inspection."""
    assert shutil.which("openssl"), "this test needs the openssl program"
    text = README.read_text(encoding="utf-8")
    (block,) = re.findall(r"<!-- signature with openssl -->\n```sh\n(.*?)```", text, re.DOTALL)
    altered = countersigned().replace(b"agrees = true", b"agrees = false", 1)
    for content, verdict in ((countersigned(), True), (altered, False)):
        (tmp_path / NAME).write_bytes(content)
        run = subprocess.run(
            ["sh", "-c", block], cwd=tmp_path, capture_output=True, text=True, check=False,
            env={**os.environ, "LC_ALL": "C"},
        )  # fmt: skip
        assert (run.returncode == 0) is verdict, run.stderr


def test_only_a_known_key_improves_the_standing() -> None:
    content = countersigned()
    whole = review(content, NAME, BOTH)
    assert (whole.state, whole.standing) == ("sound", "signed by known keys, countersigned")
    assert kinds(whole) == []
    half = review(content, NAME, knows((walks.WRITER, walks.KEY)))
    assert half.standing == "signed by known keys and by keys not known here"
    assert kinds(half) == ["unknown key"]


def test_a_refusal_needs_reasons_and_shows(tmp_path: Path) -> None:
    session = walked(tmp_path, {LOOP: off(2.0)})
    loop = session.job.plan.by_id[LOOP]
    session.accept_exception(loop, "left to the owner")
    with pytest.raises(InputRefused, match="write the reasons"):
        session.sign(said("refused"), INSPECTOR)
    with pytest.raises(InputRefused, match="countersigns or refuses"):
        session.sign(said(""), INSPECTOR)
    assert not (session.job.folder / NAME).exists()
    session.sign(said("refused", "the loop of B6 is 2 ohm too high"), INSPECTOR)
    session.close()
    content = (session.job.folder / NAME).read_bytes()
    assert report_problems(content, NAME) == []
    report = tomllib.loads(content.decode("utf-8"))
    (row,) = [one for one in report["inspection"][0]["comparison"] if one["step"] == LOOP]
    assert row["agrees"] is False
    assert row["e_n"] > 1
    found = review(content, NAME, BOTH)
    assert found.standing == "refused by the inspector; signed by known keys"
    assert "2 ohm too high" in found.of("refused")[0].message
    assert any("Loop resistance" in problem.message for problem in found.of("not agreed"))
    assert any("inspection: fail" in problem.message for problem in found.of("exception"))
    stranger = review(content, NAME, knows((walks.WRITER, walks.KEY)))
    assert stranger.standing.startswith("refused by the inspector, by a key not known here")


def test_the_installers_key_cannot_inspect(tmp_path: Path) -> None:
    session = begun(tmp_path)
    with pytest.raises(InputRefused, match="a key of their own"):
        session.sign(said(), walks.KEY)
    assert not (session.job.folder / NAME).exists()
    session.close()


def test_exceptions_are_accepted_by_whoever_signs(tmp_path: Path) -> None:
    session = begun(tmp_path)
    with pytest.raises(InputRefused, match="accepts the exceptions"):
        session.sign(replace(said(), accepted_exceptions=False), INSPECTOR)
    with pytest.raises(InputRefused, match="write the name"):
        session.sign(replace(said(), name=" "), INSPECTOR)
    session.sign(said(), INSPECTOR)
    session.close()
    report = tomllib.loads((session.job.folder / NAME).read_text("utf-8"))
    signed = report["signoff"][1]
    assert signed["exceptions"] == len(signed["accepts"]) == report["inspection"][0]["exceptions"]
    assert all("not done" in words or "Job" in words for words in signed["accepts"])


# What is done to the second piece, signed anew by another key


def once(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    """Replaces the first of something within the inspection."""

    def change(content: bytes) -> bytes:
        start = content.index(b"\n[[inspection]]")
        assert old in content[start:], old
        return content[:start] + content[start:].replace(old, new, 1)

    return change


ALTERED: dict[str, tuple[Callable[[bytes], bytes], str, str]] = {
    "its verdict": (
        once(b'verdict = "accepted"', b'verdict = "handed over with exceptions"'),
        "altered", "stands where the record gives",
    ),
    "a row's agreement": (once(b"agrees = true", b"agrees = false"), "altered", "agrees"),
    "a row's number": (once(b"e_n = ", b"e_n = 1"), "altered", "e_n"),
    "what the installer found": (once(b'installer = "5.', b'installer = "6.'), "altered", "6."),
    "what the inspector found": (once(b'inspector = "5.', b'inspector = "6.'), "altered", "6."),
    "a row left out": (
        lambda c: re.sub(rb'\n    \{ step = "controller/earth-resistance[^\n]*', b"", c),
        "altered", "stands where",
    ),
    "how many agree": (once(b"\nagree = ", b"\nagree = 1"), "altered", "agree"),
    "an entry": (once(b'text = "noted people"', b'text = "noted peopel"'), "record", "altered"),
    "the header": (
        once(b'job_kind = "inspection"', b'job_kind = "recheck"'), "record", "header was altered",
    ),
    "the checklist": (
        once(b"A second person repeats a sample.", b"A second person repeats nothing."),
        "files", "differs from what the job was made from",
    ),
    "the digest that it follows": (
        once(b'follows_sha256 = "', b'follows_sha256 = "0"\nsaid_before = "'),
        "altered", "follows_sha256",
    ),
    "its decision": (
        once(b'decision = "countersigned"', b'decision = "refused"'), "altered", "no reason",
    ),
    "no decision": (
        once(b'decision = "countersigned"', b'decision = "received"'),
        "altered", "countersigned or refused",
    ),
    "the inspection taken out": (
        lambda content: content[: len(installed())]
        + content[content.rindex(b"\n[[signoff]]\n") :],
        "altered", "there is none in it",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", ALTERED)
def test_an_altered_inspection_signed_by_another_key_is_found(case: str) -> None:
    change, kind, words = ALTERED[case]
    forged = resealed_last(change(countersigned()))
    found = review(forged, NAME, BOTH)
    assert found.state == "altered"
    assert found.of("signature") == ()
    assert any(words in str(problem) for problem in found.of(kind)), found.problems
    assert found.standing == "not to be trusted: altered"


def test_the_first_piece_altered_is_found_too() -> None:
    content = countersigned()
    forged = content.replace(b'text = "noted people"', b'text = "noted peopel"', 1)
    found = review(forged, NAME, BOTH)
    assert found.state == "altered"
    assert {"signature", "record"} <= set(kinds(found))


def test_a_record_of_the_inspection_made_anew_is_judged_again() -> None:
    """What a forger does who has the program: a verdict turned, the chain made anew."""
    job = inspected(installed())
    entries = list(job.state.entries)
    place = next(n for n, one in enumerate(entries) if one.step == LOOP)
    turned = replace(entries[place], verdict="fail")
    forged = inspected(installed(), {place: turned})
    content = sealed(
        inspection_bytes(
            installed(), 2, forged, replace(said(), public_key=as_text(FORGER.public_key))
        ),
        FORGER,
    )
    found = review(content, NAME, BOTH)
    assert found.state == "altered"
    assert any("judged again 'pass'" in problem.message for problem in found.of("altered"))


def test_an_inspection_with_other_formulas_is_told_as_that() -> None:
    job = inspected(installed(), formula_set=99)
    signed = replace(said(), public_key=as_text(INSPECTOR.public_key))
    content = sealed(inspection_bytes(installed(), 2, job, signed), INSPECTOR)
    found = examined(content, NAME)
    assert found.state == "newer formulas"
    assert ["formula set 99" in one.problem.message for one in found.findings] == [True]


def test_an_inspection_of_another_report_is_no_inspection_of_this_one() -> None:
    """The inspector's piece, put below another report of the same job and signed anew."""
    piece = countersigned()[len(installed()) :]
    moved = installed().replace(b"Found as recorded", b"Seen as recorded", 1)
    first = resealed_last(moved, walks.KEY)
    found = review(resealed_last(first + piece), NAME, BOTH)
    assert found.state == "altered"
    assert any("names another report" in problem.message for problem in found.of("record"))


def test_bits_flipped_in_a_countersigned_report_are_found() -> None:
    content = countersigned()
    rng = random.Random()
    start = content.rindex(b"\n[[signoff]]")
    places = [rng.randrange(start, len(content)) for _ in range(12)]
    places += [rng.randrange(len(content)) for _ in range(12)]
    for place in places:
        flipped = bytearray(content)
        flipped[place] ^= 1 << rng.randrange(8)
        assert report_problems(bytes(flipped), NAME), place


def test_an_inspection_of_a_drawing_changed_on_site_holds(tmp_path: Path) -> None:
    """It goes by the drawing as found, which is made again from the installer's record."""
    session = walks.begin(tmp_path, "small-garden")
    walks.walk_to_the_end(session)
    session.change_site(
        session.job.plan.by_id[LOOP], Length("A", "B6", "140 ft", "tape"), "trench measured"
    )
    while (step := walks.first_open(session)) is not None:
        walks.answer(session, step, walks.good_answer(session, step) or "")
    session.sign(walks.signoff(), walks.KEY)
    session.close()
    later = tmp_path / "later"
    later.mkdir()
    inspection = begun(later, (session.job.folder / NAME).read_bytes())
    inspection.sign(said("refused", "not looked at"), INSPECTOR)
    inspection.close()
    content = (inspection.job.folder / NAME).read_bytes()
    assert report_problems(content, NAME) == []
    assert review(content, NAME, BOTH).state == "sound"
    other = content.replace(b'length = "75 ft"', b'length = "76 ft"', 1)
    assert other != content
    assert review(other, NAME, BOTH).state == "altered"


def test_a_second_inspection_goes_on_from_the_first(tmp_path: Path) -> None:
    session = begun(tmp_path, countersigned())
    with pytest.raises(InputRefused, match="a key of their own"):
        session.sign(said(), walks.KEY)
    session.sign(said("refused", "not looked at"), FORGER)
    session.close()
    content = (session.job.folder / NAME).read_bytes()
    assert content.startswith(countersigned())
    assert report_problems(content, NAME) == []
    found = review(content, NAME, BOTH)
    assert [one.decision for one in found.signoffs] == ["", "countersigned", "refused"]
    assert found.standing.startswith("refused by the inspector, by a key not known here")
    assert [one.signoffs for one in found.versions] == [1, 2, 3]


# The owner's receipt


def test_the_owner_receives_the_very_file(tmp_path: Path) -> None:
    session = walks.begin(tmp_path, "small-garden")
    with pytest.raises(InputRefused, match="sign it first"):
        session.receive(receipt(b""), INSPECTOR)
    session.sign(walks.signoff(), walks.KEY)
    path = session.job.folder / NAME
    before = path.read_bytes()
    with pytest.raises(InputRefused, match="quotes the SHA-256"):
        session.receive(replace(receipt(before), statement="I received it."), INSPECTOR)
    assert path.read_bytes() == before
    after = session.receive(receipt(before), INSPECTOR)
    assert path.read_bytes() == after
    assert after.startswith(before)
    assert report_problems(after, NAME) == []
    block = tomllib.loads(after.decode("utf-8"))["signoff"][1]
    digest = hashlib.sha256(before).hexdigest()
    assert (block["signs_as"], block["decision"]) == ("owner", "received")
    assert block["follows_sha256"] == digest
    assert digest in block["statement"]
    with pytest.raises(InputRefused, match="stands in this report already"):
        session.receive(receipt(after), INSPECTOR)
    path.write_bytes(before.replace(b"Sam Sample", b"Sim Sample"))
    with pytest.raises(InputRefused, match="does not hold"):
        session.receive(receipt(path.read_bytes()), INSPECTOR)
    session.close()
    assert [one.name for one in session.job.folder.iterdir() if one.name.startswith(".")] == []


def test_a_countersigned_report_is_received_and_inspected_no_more_than_it_was() -> None:
    signed = replace(receipt(countersigned()), decision="received")
    signed = replace(signed, public_key=as_text(FORGER.public_key))
    report = tomllib.loads(countersigned().decode("utf-8"))["report"]
    content = sealed(receipt_bytes(countersigned(), 3, report, signed), FORGER)
    assert report_problems(content, NAME) == []
    assert review(content, NAME, BOTH).standing == "signed by known keys and by keys not known here"
    for old, new, words in (
        (b"received this report", b"received no report", "statement"),
        (b'decision = "received"', b'decision = "countersigned"', "there is none in it"),
    ):
        start = content.rindex(b"\n[[signoff]]")
        altered = resealed_last(content[:start] + content[start:].replace(old, new, 1))
        found = report_problems(altered, NAME)
        assert (not found) if words == "statement" else any(words in str(one) for one in found)
    lied = receipt(installed())  # the digest of another file
    lied = replace(lied, decision="received", public_key=as_text(FORGER.public_key))
    content = sealed(receipt_bytes(countersigned(), 3, report, lied), FORGER)
    assert any("does not quote" in str(one) for one in report_problems(content, NAME))
