"""Signing: every exception is listed above the signature line, and accepted by it."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from typing import TYPE_CHECKING, get_args

from textual.content import Content

from commission.checklist.schema import NO, YES
from commission.host import Disk
from commission.job import Job
from commission.problems import CommissionError, InputRefused
from commission.record.folder import REPORT
from commission.report.seal import fingerprint
from commission.report.signoff import Decision, SignOff, SignsAs, first_signs_as
from commission.text import visible
from commission.tui.screens.form import FormScreen, Line, LineRefused
from commission.tui.screens.paper import OWNERS_SHEET
from commission.user.people import Person
from commission.user.signing_key import SigningKey, key_state, own_key
from commission.verdict.progress import exceptions, set_aside, verdict_of_whole

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

DONE = "I carried out or supervised this commissioning"
DONE_IN = {  # where the kind of job calls it otherwise
    "inspection": "I inspected this system",
    "recheck": "I carried out or supervised this recheck",
}
STATEMENT = (
    "{done} and found what is recorded here. "
    "Local codes and licensed work remain with those responsible for them."
)
WARNING = (
    "After signing nothing can be added to this job. A name typed here, a key made on this "
    "computer and its clock prove neither the person nor the time."
)
PASSPHRASE = {
    "none yet": ("Passphrase for your new signing key (may stay empty)", "the key is made now"),
    "under a passphrase": ("Passphrase of your signing key", ""),
}


def _about(walk: WalkScreen, statement: str) -> Content:
    found = exceptions(walk.job)
    parts: list[tuple[str, str] | str] = [
        "Verdict of the whole: ",
        (verdict_of_whole(found), "bold"),
        "\n",
    ]
    for number, exception in enumerate(found, start=1):
        parts += [f"{number:>3}  ", (exception.kind, "bold"), f"  {exception.words}\n"]
    aside = set_aside(walk.job)
    if aside:
        parts += [("Marked not applicable, with these reasons\n", "bold")]
        parts += [f"     {words}\n" for words in aside]
    if walk.job.inspects:
        parts += _beside_the_report(walk.job)
    parts += [("Statement", "bold"), f"  {statement}\n", (WARNING, "$quiet"), "\n"]
    return Content.assemble(*parts)


def _beside_the_report(job: Job) -> list[tuple[str, str] | str]:
    """How many results agree with those of the report, and each that does not."""
    from commission.report.second import second_readings

    found = list(second_readings(job.earlier, job)) if job.earlier else []
    differ = [one.table for one in found if one.agrees is False]
    agree = sum(one.agrees is True for one in found)
    parts: list[tuple[str, str] | str] = [
        ("Beside the report", "bold"), f"  {agree} agree, {len(differ)} differ\n",
    ]  # fmt: skip
    for row in differ:
        parts.append(
            f"     {row['place']}: {row['title']}: installer {row['installer']}, "
            f"inspector {row['inspector']}\n"
        )
    return parts


COUNTERSIGN, REFUSE = "countersign", "refuse"
DECISIONS: dict[str, Decision] = {"": "", COUNTERSIGN: "countersigned", REFUSE: "refused"}


def _decision(job: Job) -> list[Line]:
    """The lines for what an inspector decides about the report."""
    if not job.inspects:
        return []
    return [
        Line(
            "decision", "Countersign the report, or refuse", "", (COUNTERSIGN, REFUSE),
            needed=f"write '{COUNTERSIGN}' or '{REFUSE}'",
        ),
        Line("reasons", "Reasons (needed for a refusal)"),
    ]  # fmt: skip


def passphrase() -> list[Line]:
    """The line for the key's passphrase, where there is something to type."""
    try:
        label, hint = PASSPHRASE[key_state()]
    except (KeyError, InputRefused):  # an open key needs none; one not readable is told on signing
        return []
    return [Line("passphrase", label, hint=hint, secret=True)]


def _licence(job: Job) -> str:
    """The licence that a step of the job asked for."""
    asked = (one for one in job.statuses.values() if one.step.item.offers == "licence")
    return next((one.entry.text for one in asked if one.state == "answered" and one.entry), "")


def key_by(passphrase: str | None) -> SigningKey:
    """The user's key; None where the form asked for no passphrase."""
    try:
        return own_key(passphrase or "")
    except InputRefused as refused:
        if passphrase is None:
            raise
        raise LineRefused("passphrase", str(refused)) from None


def tell_signed(walk: WalkScreen, key: SigningKey, words: str) -> None:
    """Tell that it worked, where the report lies, and by which key; and remember having seen it."""
    from commission.reviewing import remember_signed  # it takes as long to load as a review

    path = walk.job.folder / REPORT
    said = [
        words,
        f"Report: {visible(str(path), 500)}",
        f"Key that signed: {fingerprint(key.public_key)}",
        f"Esc, then: {OWNERS_SHEET}",
        remember_signed(path, Disk()),
    ]
    walk.tell("\n".join(filter(None, said)))


def _know_own(key: SigningKey, name: str, at: datetime) -> None:
    """Know one's own key from now on; where that can't be written, it is signed all the same."""
    from commission.user.signers import know_own_key

    with suppress(CommissionError):
        know_own_key(name, key.public_key, at)


def _accepting(job: Job) -> str:
    """What is asked before the signature."""
    count = len(exceptions(job))
    listed = "exception" if count == 1 else f"{count} exceptions"
    return f"Accept the {listed} above, and sign?" if count else "Sign?"


def sign_form(walk: WalkScreen) -> FormScreen:
    """The form of the first sign-off: of the inspector in an inspection, else of the installer."""
    session = walk.session
    person = session.crew.person(session.crew.hands.entered_by)
    kind = walk.job.header.job_kind
    signs_as = first_signs_as(kind)
    role = signs_as if person.role in ("", *get_args(SignsAs)) else person.role
    statement = STATEMENT.format(done=DONE_IN.get(kind, DONE))

    def keep(values: dict[str, str]) -> None:
        if values["accept"] != YES:
            raise LineRefused("accept", f"answer '{YES}' to sign, or choose Back")
        session.crew.remember(
            Person(values["name"], values["role"], values["company"], values["licence"])
        )
        decision, reasons = DECISIONS[values.get("decision", "")], values.get("reasons", "")
        if decision == "refused" and not reasons:
            raise LineRefused("reasons", "write the reasons why you refuse to countersign")
        key = key_by(values.get("passphrase"))
        session.sign(
            SignOff(
                role=values["role"],
                name=values["name"],
                company=values["company"],
                licence=values["licence"],
                statement=values["statement"],
                at=session.now(),
                signs_as=signs_as,
                decision=decision,
                reasons=reasons,
            ),
            key,
        )
        _know_own(key, values["name"], session.now())
        words = f"Signed and saved: {decision or verdict_of_whole(exceptions(walk.job))}"
        tell_signed(walk, key, words)

    return FormScreen(
        "Sign and save the report",
        [
            Line(
                "name", "Name (PgUp: everything that is accepted by signing)", person.name,
                needed="write the name of whoever signs",
            ),
            Line("role", "Role", role, needed="write your role"),
            Line("company", "Company", person.company, needed="write your company, or 'none'"),
            Line(
                "licence", "Licence or certificate number", person.licence or _licence(walk.job),
                needed="write its number, or 'none'",
            ),
            Line("statement", "Statement", statement, needed="write what you declare by signing"),
            *_decision(walk.job),
            *passphrase(),
            Line("accept", _accepting(walk.job), "", (YES, NO)),
        ],
        keep,
        about=_about(walk, statement),
        keep_words="Sign and save",
    )  # fmt: skip
