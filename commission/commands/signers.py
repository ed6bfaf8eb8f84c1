"""`commission signers`: whose keys are known here, and what one's own key is called."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands.say import finish, say, table
from commission.problems import EXIT_DONE, EXIT_REFUSED, InputRefused, Problem
from commission.text import visible

if TYPE_CHECKING:
    from commission.report.signed_by import SignedBy


def run(options: argparse.Namespace) -> int:
    """List the known signers; or take the key of a sign-off in, or one out."""
    if options.know is not None and options.forget is not None:
        raise InputRefused("one at a time: --know or --forget")
    if options.number is not None and options.know is None:
        raise InputRefused("--number is for --know")
    if options.know is not None:
        return _know(Path(options.know), options.number)
    if options.forget is not None:
        from commission.user.key_text import as_typed
        from commission.user.signers import forget_signer

        gone = forget_signer(as_typed(visible(options.forget, 60)))
        say(f"{gone.name} is forgotten: {gone.fingerprint}")
        return EXIT_DONE
    _list()
    return EXIT_DONE


def _list() -> None:
    from commission.user.signers import load_signers, signers_file

    known = load_signers().all
    say(f"your own key: {_own_fingerprint()}")
    if not known:
        say("no signer is known yet; 'commission signers --know REPORT' takes one in")
        return
    rows = [(one.fingerprint, one.name, f"{one.since:%Y-%m-%d}", one.note) for one in known]
    say(f"known signers, in {signers_file()}:")
    say(table(rows))


def _own_fingerprint() -> str:
    from commission.user.key_text import fingerprint
    from commission.user.signing_key import key_state, own_key

    state = key_state()
    if state == "none yet":
        return "none yet; it is made at the first sign-off"
    if state == "under a passphrase":
        return "under a passphrase; its fingerprint stands in every report that you signed"
    return fingerprint(own_key().public_key)


def _know(path: Path, number: int | None) -> int:
    """Take in the key of one sign-off, once its fingerprint was heard from the signer."""
    from commission.session import now_local
    from commission.user.signers import KnownSigner, know_signer

    one = _signoff(path, number)
    if one.trust == "known":
        say(f"{one.name} is known by this key already: {one.fingerprint}")
        return EXIT_DONE
    new = KnownSigner(one.name, one.public_key, one.fingerprint, now_local())
    say(f"{one.name}, who signed as {one.signs_as} on {one.at}, has the key")
    say(f"  {one.fingerprint}")
    say("Did you hear these letters from the signer, over a line that you trust?")
    say("Type yes, and nothing else will do:")
    finish()
    if _heard() != "yes":
        say("not taken in")
        return EXIT_REFUSED
    know_signer(new)
    say(f"{one.name} is known by this key from now on")
    return EXIT_DONE


def _heard() -> str:
    """What was typed; "" when there is nobody to type, or it is no text."""
    try:
        return sys.stdin.readline(100).strip().lower() if sys.stdin else ""
    except (OSError, ValueError):
        return ""


def _signoff(path: Path, number: int | None) -> SignedBy:
    """The sign-off that is meant; raises InputRefused unless its signature holds."""
    from commission.asked import read_file
    from commission.host import Disk
    from commission.report.review import review
    from commission.user.signers import load_signers

    name = visible(str(path))
    seen = review(read_file(Disk(), path), name, load_signers())
    if seen.state in ("altered", "not readable"):
        raise InputRefused([*seen.problems[:1], Problem(name, "no key is taken from it")])
    if number is None and len(seen.signoffs) > 1:
        named = ", ".join(f"{one.number} {one.name}" for one in seen.signoffs)
        raise InputRefused(f"{name} has several sign-offs, name one with --number: {named}")
    found = next((one for one in seen.signoffs if one.number == (number or 1)), None)
    if found is None:
        raise InputRefused(f"{name} has no sign-off {number}")
    return found
