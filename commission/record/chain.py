"""A record as one chain of sealed blocks: verified from its first byte to its last."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from commission.problems import InputRefused, Problem
from commission.record import codec
from commission.record.entry import Entry, Header

_SEPARATOR = b"\n" + codec.ENTRY_LINE
_REMEDY = (
    "nothing was changed; put back an unchanged copy of the record, "
    "or start a new job and keep this folder"
)


@dataclass(frozen=True, slots=True)
class Verified:
    """What a record holds; `size` is the length of what counts of it, what follows is torn."""

    header: Header
    entries: tuple[Entry, ...]
    size: int
    digest: str  # of the last block that counts
    cut_list: int = 0  # of how many entries a list was to be that was cut short, and counts not


def verify(data: bytes, name: str) -> Verified:
    """Read a record and verify every digest and the chain.

    Whole entries of a list that was cut short do not count: they were never confirmed. Raises
    InputRefused, naming the entry, for damage that no interrupted write can explain.
    """
    top = codec.header_block(data)
    try:
        header = codec.decode_header(top)
    except ValueError as error:
        raise _refusal(name, "header", error) from None
    entries: list[Entry] = []
    links, position = Links(codec.digest_of(top)), len(top)
    before = Verified(header, (), position, links.digest)  # the list that is being read, if any
    while block := _block_at(data, position):
        try:
            entry = codec.decode_entry(block)
            if entry.list_of is not None:
                before = Verified(header, tuple(entries), position, links.digest, entry.list_of)
            links.take(entry)
        except ValueError as error:
            raise _refusal(name, f"entry {len(entries) + 1}", error) from None
        entries.append(entry)
        position += 1 + len(block)
    _refuse_damage_inside(data, position, len(entries) + 1, name)
    if links.cut_short:
        return before
    return Verified(header, tuple(entries), position, links.digest)


class Links:
    """Entries taken one after the other, each of which must follow from the one before it."""

    def __init__(self, digest: str, count: int = 0) -> None:
        """After `count` entries; `digest` is that of the last block, or of the header."""
        self.digest, self._count = digest, count
        self._first, self._due = 0, 0  # numbers of the first and the last entry of a list

    @property
    def cut_short(self) -> bool:
        """Whether a list of entries that count together is not whole yet."""
        return self._count < self._due

    def take(self, entry: Entry) -> None:
        """Take the next entry. Raises ValueError, in words, when it does not follow."""
        number = self._count + 1
        _refuse_unless_next(entry, number, self.digest)
        if self._first < number <= self._due and entry.written_with != self._first:
            raise ValueError(
                f"it stands inside the list of entry {self._first} and is no part of it"
            )
        if entry.list_of is not None:
            self._first, self._due = number, self._count + entry.list_of
        self._count, self.digest = number, entry.sha256


def chained(
    entries: Sequence[Entry], count: int, digest: str, *, as_list: bool = False
) -> tuple[bytes, tuple[Entry, ...]]:
    """The bytes that follow `count` entries, and the entries as they will be read back.

    `as_list`: they count together or not at all. Raises ValueError for an entry that a record
    can't hold.
    """
    blocks: list[bytes] = []
    written: list[Entry] = []
    links, first = Links(digest, count), count + 1
    for number, entry in enumerate(entries, start=first):
        together = first if number > first else None
        list_of = len(entries) if as_list and number == first and len(entries) > 1 else None
        block = codec.encode_entry(
            replace(
                entry, number=number, list_of=list_of, written_with=together, previous=links.digest
            )
        )
        written.append(codec.decode_entry(block))
        links.take(written[-1])
        blocks.append(b"\n" + block)
    return b"".join(blocks), tuple(written)


def _refuse_unless_next(entry: Entry, number: int, digest: str) -> None:
    codec.refuse_unknown_type(entry.type)
    if entry.number != number:
        raise ValueError(f"number {entry.number} stands where {number} should: some are missing")
    if entry.previous != digest:
        raise ValueError("it does not follow from what stands above it: the chain is broken")
    if entry.written_with is not None and not 0 < entry.written_with < number:
        raise ValueError("written_with is not the number of an earlier entry")
    if entry.list_of is not None and (entry.list_of < 2 or entry.written_with is not None):
        raise ValueError("list_of does not stand in the first of several entries")
    if entry.refers_to is not None and not 0 < entry.refers_to < number:
        raise ValueError("refers_to is not the number of an earlier entry")
    if entry.type == "withdrawal" and entry.refers_to is None:
        raise ValueError("a withdrawal does not say what it withdraws")


def _block_at(data: bytes, position: int) -> bytes:
    """The whole entry whose separator stands at `position`; nothing when it is not whole."""
    if not data.startswith(_SEPARATOR, position):
        return b""
    end = codec.end_of_block(data, position + 1)
    block = data[position + 1 : max(end, 0)]
    return block if block and codec.is_sealed(block) else b""


def _refuse_damage_inside(data: bytes, position: int, number: int, name: str) -> None:
    """A whole entry below a damaged one means damage, unless both were written at one go.

    The parts of one write may reach the medium in any order; what was written later can't.
    """
    for block in _whole_blocks_below(data, position):
        try:
            together = codec.decode_entry(block).written_with
        except ValueError:
            together = None
        if together is None or together > number:
            error = ValueError("it is damaged, and whole entries follow it")
            raise _refusal(name, f"entry {number}", error)


def _whole_blocks_below(data: bytes, position: int) -> Iterator[bytes]:
    while (position := data.find(_SEPARATOR, position)) >= 0:
        block = _block_at(data, position)
        if block:
            yield block
        position += 1 + len(block)


def _refusal(name: str, where: str, error: ValueError) -> InputRefused:
    remedy = error.remedy if isinstance(error, codec.NewerFormat) else _REMEDY
    return InputRefused([Problem(name, str(error), where, remedy=remedy)])
