"""Some of all flipped bits of a countersigned report; all of them: `python -m tests.every_bit`."""

from __future__ import annotations

import random

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from commission.report.seal import as_text, sealed
from commission.user.signing_key import SigningKey
from tests.every_bit import Flipper, drawn, is_found, tried
from tests.report.test_inspection import countersigned

ONE_IN = 2_000


def test_flipped_bits_are_found() -> None:
    content = countersigned()
    counts, missed = tried(content, range(len(content)), ONE_IN, reviewed_one_in=200)
    assert missed == []
    assert {"text", "seal"} <= set(counts)


def test_those_of_the_last_lines_are_found() -> None:
    """Where the signature's own bytes stand no signature covers them: they are its encoding."""
    content = countersigned()
    flipper, rng = Flipper(content), random.Random()
    found = {flipper.found_by(flip) for flip in drawn(range(flipper.block, len(content)), 100, rng)}
    assert "" not in found
    assert "block" in found


def test_what_the_seal_settles_the_signature_does_not_verify() -> None:
    """The equation by SHA-512 alone says of each flip what verifying with the library says."""
    content = countersigned()
    flipper, rng = Flipper(content), random.Random()
    settled = [
        flip
        for flip in drawn(range(flipper.block), ONE_IN * 20, rng)
        if flipper.found_by(flip) == "seal"
    ]
    assert settled
    for flip in settled[:20]:
        assert is_found(flipper.flipped(flip)), flip


def test_a_flip_that_a_signature_covers_as_it_stands_is_told_as_not_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The trial itself can fail: with a review that finds nothing every last line is missed."""
    monkeypatch.setattr("tests.every_bit.is_found", lambda _content: False)
    key = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))
    public = 'public_key = "{}"\nfingerprint = "x"\n'
    content = sealed(
        b"a = 1\n\n[[signoff]]\n" + public.format(as_text(key.public_key)).encode(), key
    )
    end = content.rindex(b"signature = ")
    _counts, missed = tried(content, range(end, end + 1), 1)
    assert missed
    assert {place for place, _bit in missed} == {end}
