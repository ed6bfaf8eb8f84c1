"""Signing: every exception is listed above the signature line, and accepted by it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from commission.problems import CommissionError, InputRefused
from commission.report.signoff import SignOff
from commission.session import NO, YES
from commission.tui.screens.form import FormScreen, Line
from commission.user.people import Person
from commission.user.signing_key import key_state, own_key
from commission.verdict.progress import exceptions, set_aside, verdict_of_whole

if TYPE_CHECKING:
    from commission.tui.screens.walk import WalkScreen

STATEMENT = (
    "I carried out or supervised this commissioning and found what is recorded here. "
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


def _about(walk: WalkScreen) -> Content:
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
    parts += [(WARNING, "$quiet"), "\n"]
    return Content.assemble(*parts)


def _passphrase() -> list[Line]:
    """The line for the key's passphrase, where there is something to type."""
    try:
        label, hint = PASSPHRASE[key_state()]
    except (KeyError, InputRefused):  # an open key needs none; one not readable is told on signing
        return []
    return [Line("passphrase", label, hint=hint, secret=True)]


def sign_form(walk: WalkScreen) -> FormScreen:
    """The form of the installer's sign-off."""
    session = walk.session
    person = session.crew.person(session.crew.hands.entered_by)
    count = len(exceptions(walk.job))

    def keep(values: dict[str, str]) -> str:
        try:
            if not values["name"].strip():
                raise InputRefused("write the name of whoever signs")
            if values["accept"] != YES:
                raise InputRefused(f"answer '{YES}' to sign, or choose Back")
            session.crew.remember(
                Person(values["name"], values["role"], values["company"], values["licence"])
            )
            session.sign(
                SignOff(
                    role=values["role"],
                    name=values["name"],
                    company=values["company"],
                    licence=values["licence"],
                    statement=values["statement"],
                    at=session.now(),
                ),
                own_key(values.get("passphrase", "")),
            )
        except CommissionError as error:
            return str(error)
        return ""

    accept = "Sign" if not count else f"Accept the {count} exceptions above, and sign"
    return FormScreen(
        "Sign and save the report",
        [
            Line("name", "Name (PgUp: everything that is accepted by signing)", person.name),
            Line("role", "Role", person.role or "installer"),
            Line("company", "Company", person.company),
            Line("licence", "Licence or certificate number", person.licence),
            Line("statement", "Statement", STATEMENT),
            *_passphrase(),
            Line("accept", f"{accept}?", "", (YES, NO)),
        ],
        keep,
        about=_about(walk),
        keep_words="Sign and save",
    )
