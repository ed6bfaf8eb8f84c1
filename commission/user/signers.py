"""The signers whose keys this user knows: `known-signers.toml`.

A key is known when its fingerprint was heard from the signer, or when it is one's own and signed
here; nothing else makes it so.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from commission.problems import InputRefused, Problem
from commission.user.folder import config_folder
from commission.user.key_text import KEY_BYTES, as_bytes, as_text, fingerprint

KIND = "commission known signers"
FORMAT = 1
FILE = "known-signers.toml"
OWN = "my own key"  # the note beside it


@dataclass(frozen=True, slots=True)
class KnownSigner:
    """A name and the key that signs under it, since when, and a remark of the user's own."""

    name: str
    public_key: str  # base64
    fingerprint: str
    since: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class KnownSigners:
    """All known signers; names are compared without regard to case and blanks."""

    all: tuple[KnownSigner, ...] = ()

    def keys_of(self, name: str) -> frozenset[str]:
        """The keys under which a name is known; empty for an unknown name."""
        return frozenset(one.public_key for one in self.all if _same(one.name, name))

    def name_of(self, public_key: str) -> str:
        """The name under which a key is known; "" for an unknown key."""
        return next((one.name for one in self.all if one.public_key == public_key), "")


def _same(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def signers_file() -> Path:
    """Where known signers are remembered."""
    return config_folder() / FILE


def load_signers() -> KnownSigners:
    """Every known signer, in the order of the file; raises InputRefused with its problems."""
    from commission.user import tables
    from commission.user.file_shapes import SignersFile

    found = tables.read(signers_file(), SignersFile, KIND, FORMAT)
    known = [KnownSigner(**row.model_dump()) for row in found.signer] if found else []
    _refuse_wrong_keys(known)
    return KnownSigners(tuple(known))


def know_signer(new: KnownSigner) -> None:
    """Add a signer's key.

    Raises InputRefused when it is known, or its name with another key; CouldNotWrite.
    """
    known = load_signers()
    _refuse_wrong_keys([new])
    other = known.name_of(new.public_key)
    if other:
        raise InputRefused(f"{new.fingerprint} is known already, as {other}")
    if known.keys_of(new.name):
        raise InputRefused(
            f"{new.name} is known with another key: forget that one first, if the signer says, "
            "over a line that you trust, that the key was changed"
        )
    _write([*known.all, new])


def know_own_key(name: str, public_key: bytes, since: datetime) -> None:
    """Add one's own key under the name that it signs with; what is known already stays as it is.

    Raises CouldNotWrite.
    """
    new = KnownSigner(name, as_text(public_key), fingerprint(public_key), since, OWN)
    with suppress(InputRefused):  # known already, by this name or another; or the file has problems
        know_signer(new)


def forget_signer(text: str) -> KnownSigner:
    """Take a key out, named by its fingerprint; raises InputRefused when it is not known."""
    known = load_signers().all
    gone = next((one for one in known if one.fingerprint == text), None)
    if gone is None:
        raise InputRefused(f"no known signer has the fingerprint {text}")
    _write(one for one in known if one is not gone)
    return gone


def _write(signers: Iterable[KnownSigner]) -> None:
    from commission.user import tables
    from commission.user.file_shapes import SignersFile

    rows = [asdict(one) for one in signers]
    tables.write(signers_file(), SignersFile, {"kind": KIND, "format": FORMAT, "signer": rows})


def _refuse_wrong_keys(signers: Iterable[KnownSigner]) -> None:
    """Keys that are none, and fingerprints that are not those of their keys."""
    found = []
    for number, one in enumerate(signers, start=1):
        key = as_bytes(one.public_key, KEY_BYTES)
        place = f"signer.{number}"
        if key is None:
            found.append(Problem(str(signers_file()), "this is no key", f"{place}.public_key"))
        elif fingerprint(key) != one.fingerprint:
            words = "this is not the fingerprint of its key"
            remedy = "hear it from the signer again, and take this one out"
            found.append(Problem(str(signers_file()), words, f"{place}.fingerprint", remedy=remedy))
    if found:
        raise InputRefused(found)
