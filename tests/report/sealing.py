"""Reports signed anew after something in them was altered: what a forger with a key would do."""

from __future__ import annotations

import re

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from commission.report.again import unsealed
from commission.report.seal import as_text, fingerprint, sealed
from commission.user.signing_key import SigningKey

FORGER = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes(range(100, 132))))


def resealed(content: bytes, key: SigningKey = FORGER) -> bytes:
    """A report of one sign-off, altered or not, signed by another key; its lines keep places."""
    bare = unsealed(content).decode("utf-8", "surrogateescape")
    for name, text in (
        ("public_key", as_text(key.public_key)), ("fingerprint", fingerprint(key.public_key)),
    ):  # fmt: skip
        start = bare.rindex(f"\n{name} = ")
        bare = bare[:start] + re.sub(r'"[^"]*"', f'"{text}"', bare[start:], count=1)
    return sealed(bare.encode("utf-8", "surrogateescape"), key)
