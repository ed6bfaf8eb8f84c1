"""Signatures over the bytes of a report: what each covers, how one is made, what is wrong.

The signature line is the last line of its `[[signoff]]` and covers every byte of the file before
it, `signed_bytes` included, which says how many these are. After it only another sign-off may
follow, with the inspection that it signs: the file is cut at the signatures, and each piece is
TOML of its own. Nothing signed is ever written anew.

Ed25519 (RFC 8032), keys and signatures in base64 (RFC 4648 section 4). A key proves that one hand
signed twice, and nothing about whose hand it was, or when.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from commission.problems import Problem
from commission.user.key_text import KEY_BYTES as KEY_BYTES
from commission.user.key_text import SIGNATURE_BYTES
from commission.user.key_text import as_bytes as as_bytes
from commission.user.key_text import as_text as as_text
from commission.user.key_text import fingerprint as fingerprint

_FOLLOWS = {"signoff", "inspection"}


class Signer(Protocol):
    """A private key in use."""

    @property
    def public_key(self) -> bytes: ...

    def sign(self, data: bytes) -> bytes:
        """Ed25519 signature of some bytes."""
        ...


def sealed(content: bytes, signer: Signer) -> bytes:
    """Content that ends within an open `[[signoff]]`, with its last two lines: count, signature."""
    digits = len(str(len(content)))
    while True:
        count = len(content) + len(b"signed_bytes = \n") + digits
        if len(str(count)) == digits:
            break
        digits = len(str(count))
    covered = content + _count_line(count)
    return covered + _signature_line(as_text(signer.sign(covered)))


def _count_line(count: int) -> bytes:
    return b"signed_bytes = %d\n" % count


def _signature_line(text: str) -> bytes:
    return f'signature = "{text}"\n'.encode("ascii")


def ends(content: bytes, signoffs: Sequence[Mapping[str, Any]]) -> list[int] | None:
    """Where each sign-off's block ends; None where a signature is not where it should be."""
    found = []
    for block in signoffs:
        count, text = block.get("signed_bytes"), block.get("signature")
        if type(count) is not int or as_bytes(text, SIGNATURE_BYTES) is None:
            return None
        line = _signature_line(str(text))
        if not _is_counted(content, count) or content[count : count + len(line)] != line:
            return None
        found.append(count + len(line))
    return found


def _is_counted(content: bytes, count: int) -> bool:
    """Whether so many bytes end in the line that counts them: a line of its own, no remark."""
    return 0 < count <= len(content) and content[:count].endswith(b"\n" + _count_line(count))


def uncounted(content: bytes, block: Mapping[str, Any]) -> bytes:
    """All of a report up to the line that counts what a sign-off covers, as that one says.

    The sign-off is one whose end `ends` has found.
    """
    count = int(block["signed_bytes"])
    return content[: count - len(_count_line(count))]


def seal_problems(content: bytes, report: Mapping[str, Any], name: str) -> list[Problem]:
    """What is wrong with the signatures of a report; nothing when all of them hold."""
    blocks = report["signoff"]
    found: list[Problem] = []
    last_end = 0
    for number, block in enumerate(blocks, start=1):
        place = f"signoff {number}"
        problems = list(_block_problems(content, report, block, number))
        if last_end and not problems:
            problems = _tail_problems(content[last_end : _end_of(block)], block)
        found += [Problem(name, words, place) for words in problems]
        last_end = _end_of(block) if not problems else 0
    if last_end and last_end != len(content):
        words = f"{len(content) - last_end} bytes follow the last signature, which covers none"
        found.append(Problem(name, words, "signoff"))
    return found


def _end_of(block: Mapping[str, Any]) -> int:
    return int(block["signed_bytes"]) + len(_signature_line(str(block["signature"])))


def _block_problems(
    content: bytes, report: Mapping[str, Any], block: Mapping[str, Any], number: int
) -> list[str]:
    """What is wrong with one sign-off by itself; the first thing says enough."""
    if "signature" not in block:
        return ["it carries no signature"]
    if block.get("report") != report.get("report"):
        return ["it was signed for another report, and put here"]
    if block.get("number") != number:
        return ["sign-offs are missing or changed over: its number is not the one of its place"]
    key = as_bytes(block.get("public_key"), KEY_BYTES)
    signature = as_bytes(block["signature"], SIGNATURE_BYTES)
    if key is None or signature is None:
        return ["its key or its signature is not written as this program writes it"]
    if block.get("fingerprint") != fingerprint(key):
        return ["its fingerprint is not that of its key"]
    count = block.get("signed_bytes")
    if type(count) is not int or not 0 < count <= len(content):
        return ["it does not say how many bytes it covers"]
    line = _signature_line(str(block["signature"]))
    if not _is_counted(content, count) or content[count : count + len(line)] != line:
        return [
            "its signature line is not where it says: bytes were put in or taken out before it, "
            "or keys were added after it"
        ]
    if not holds(key, signature, content[:count]):
        return ["its signature does not hold: something before it was altered"]
    return []


def holds(public_key: bytes, signature: bytes, data: bytes) -> bool:
    """Whether a signature over some bytes was made with the private half of a key."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(public_key).verify(signature, data)
    except (InvalidSignature, ValueError):
        return False
    return True


def _tail_problems(tail: bytes, block: Mapping[str, Any]) -> list[str]:
    """What is wrong with the piece between two signatures: one sign-off, and what it signs."""
    try:
        table = tomllib.loads(tail.decode("utf-8"))
    except (ValueError, RecursionError):
        return ["what stands between the signature before it and its own is no piece of a report"]
    others = [key for key in table if key not in _FOLLOWS]
    own = table.get("signoff")
    # Keys that follow its signature stand in the block too: that they do is told as such.
    is_own = isinstance(own, list) and own == [{key: block[key] for key in own[0] if key in block}]
    if others or not is_own or len(table.get("inspection", [])) > 1:
        return ["something was added between the signature before it and its own block"]
    return []
