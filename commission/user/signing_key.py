"""The user's own signing key: made at the first sign-off, private to the user.

An Ed25519 key in PKCS 8 (RFC 8410), so that other programs can read it too; encrypted when a
passphrase was given.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from commission.problems import InputRefused
from commission.user.folder import config_folder, make_private

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

FILE = "signing-key.pem"
_ENCRYPTED = b"ENCRYPTED PRIVATE KEY"


@dataclass(frozen=True)
class SigningKey:
    """A private key in use; `public_key` is its public half, 32 bytes."""

    private: Ed25519PrivateKey

    @property
    def public_key(self) -> bytes:
        """The public half, raw."""
        return self.private.public_key().public_bytes_raw()

    def sign(self, data: bytes) -> bytes:
        """The Ed25519 signature of some bytes, 64 bytes."""
        return self.private.sign(data)


def key_file() -> Path:
    """Where the key lies; it may not exist yet."""
    return config_folder() / FILE


def key_state() -> str:
    """ "none yet", "open" or "under a passphrase"; raises InputRefused for one not readable."""
    content = _content()
    if content is None:
        return "none yet"
    return "under a passphrase" if _ENCRYPTED in content else "open"


def own_key(passphrase: str = "") -> SigningKey:
    """The user's key; the first time it is made, under a passphrase when one is given.

    Raises InputRefused for a wrong passphrase or a damaged file, CouldNotWrite.
    """
    content = _content()
    if content is None:
        return _made(passphrase)
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    secret = passphrase.encode("utf-8") if _ENCRYPTED in content else None
    if secret == b"":
        raise InputRefused("your signing key is under a passphrase: type it")
    try:
        key = load_pem_private_key(content, secret)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        if secret is not None:
            raise InputRefused("this is not the passphrase of your signing key") from error
        raise InputRefused(f"{key_file()} is not a key: move it away, or put a copy back") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise InputRefused(f"{key_file()} is another kind of key than this program uses")
    return SigningKey(key)


def _content() -> bytes | None:
    try:
        return key_file().read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        words = f"{key_file()} can't be read: {error.strerror or error}"
        raise InputRefused(words) from error


def _made(passphrase: str) -> SigningKey:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        Encoding,
        KeySerializationEncryption,
        NoEncryption,
        PrivateFormat,
    )

    from commission.host import Disk, could_not_write, write_new

    key = Ed25519PrivateKey.generate()
    secret: KeySerializationEncryption = NoEncryption()
    if passphrase:
        secret = BestAvailableEncryption(passphrase.encode("utf-8"))
    path, disk = key_file(), Disk()
    make_private(path.parent)
    try:
        write_new(disk, path, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, secret))
        disk.sync_directory(path.parent)
    except OSError as error:
        raise could_not_write(path, error) from error
    return SigningKey(key)
