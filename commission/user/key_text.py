"""Public keys and signatures as text: base64 in files, a short fingerprint to read aloud."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re

KEY_BYTES, SIGNATURE_BYTES = 32, 64
_GROUP, _GROUPS = 4, 4


def fingerprint(public_key: bytes) -> str:
    """A key in 16 letters and digits to read aloud: the first 80 bits of its SHA-256, base32.

    The alphabet of RFC 4648 section 6 has no 0, 1, 8 and 9, so nothing is mistaken for a letter.
    """
    letters = base64.b32encode(hashlib.sha256(public_key).digest()).decode("ascii")
    return "-".join(letters[_GROUP * n : _GROUP * (n + 1)] for n in range(_GROUPS))


def as_typed(text: str) -> str:
    """A fingerprint as `fingerprint` writes it, typed in any case, with or without its hyphens."""
    letters = re.sub(r"[\s-]", "", text).upper()
    return "-".join(letters[start : start + _GROUP] for start in range(0, len(letters), _GROUP))


def as_text(raw: bytes) -> str:
    """Bytes of a key or a signature as files hold them: base64 (RFC 4648 section 4)."""
    return base64.b64encode(raw).decode("ascii")


def as_bytes(text: object, length: int) -> bytes | None:
    """What was written by `as_text`; None for anything else, another spelling of it included."""
    if not isinstance(text, str):
        return None
    try:
        raw = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return None
    return raw if len(raw) == length and as_text(raw) == text else None
