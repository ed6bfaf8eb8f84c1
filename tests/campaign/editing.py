"""A site file edited at random on a disk that loses power and refuses calls.

After every call that changes the disk it is looked at as it would be found after a cut there: the
site file is whole, and what counts now, or counted before the step, is offered again. Between two
programs the file may be changed, spoilt or removed by another hand: what counted is offered all the
same, and what the other hand left is kept beside the file when it is written over.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from errno import EIO, ENOSPC
from pathlib import Path
from unittest.mock import patch

from commission.editing import working_copy
from commission.editing.edition import ChangedMeanwhile, Edition
from commission.opening import Unheld
from commission.problems import CommissionError, InputRefused
from commission.resources import samples
from commission.site.changes.kinds import (
    AddBox,
    AddEnd,
    AddStation,
    Cable,
    Change,
    ChangeBox,
    ChangeStation,
    DeleteBox,
    DeleteStation,
    Length,
    MoveStation,
    Rename,
    SwapAddresses,
)
from commission.site.schema import Site
from tests import walks
from tests.campaign.power import WatchedDisk
from tests.campaign.rows import Row, place, timed
from tests.record.simulated_disk import SimulatedDisk

SITE = Path("/ground/garden.toml")
STEPS = 40  # with one file
OWN = (("standby_current", "4 mA"), ("solenoids", 2))  # a kind that no sample has
SAMPLES = ("small-garden", "converted-bundle")


def run(count: int, seed: int) -> list[Row]:
    """About so many cuts while site files are edited."""
    rng = random.Random(seed)
    row = Row("editing", "cuts after every call while a site file is edited, some refused", seed)
    with timed(row), place(), patch.object(working_copy, "hold", lambda *_: Unheld()):
        while row.times < count:
            edited = _Edited(rng, row)
            for _ in range(STEPS):
                edited.step()
                if rng.random() < 0.15:
                    edited.begin_again()
    return [row]


class _Edited:
    """One file with a program on it, and what was found after each call of a step."""

    def __init__(self, rng: random.Random, row: Row) -> None:
        self.rng, self.row, self.disk = rng, row, WatchedDisk()
        self.disk.put(SITE, samples()[rng.choice(SAMPLES)].read_bytes())
        self.edition = self._opened(self.disk)
        self.known: bytes | None = self.disk.read(SITE)  # the file as the program knows it
        self.found: list[str] = []
        # After a refusal the disk may hold what was refused as well as what counts: the working
        # copy until another is kept, the site file until it is written.
        self.in_doubt = self.file_in_doubt = False

    def step(self) -> None:
        """A change, or one taken back, done again or written; the disk may refuse it."""
        before, rng = self.edition.version.text, self.rng
        self.disk.look = self._look
        if rng.random() < 0.1:
            self.disk.fail_at(self.disk.calls + rng.randint(1, 6), rng.choice((ENOSPC, EIO)))
        refused = False
        try:
            rng.choice((self._change, self._change, self._change, self._move, self._write))()
        except InputRefused:
            pass
        except CommissionError:
            refused = True
            if self.edition.version.text != before:
                self.row.escape("a refused step counts all the same")
        self.disk.look, self.disk.fails = lambda: None, lambda call, number: 0
        allowed = {before, self.edition.version.text}
        in_doubt = self.in_doubt or self.file_in_doubt or refused
        if not in_doubt and any(one not in allowed for one in self.found):
            self.row.lose("what is found after a cut counted neither before nor after the step")
        if self.found:  # something was done on the disk
            self.in_doubt = refused
        self.found.clear()

    def begin_again(self) -> None:
        """Another program after this one: what counted is offered, and gone on with."""
        counted, unwritten = self.edition.version.text, self.edition.unwritten
        self.edition.close()
        sound = not (self.in_doubt or self.file_in_doubt)
        if sound and self.rng.random() < 0.4:
            self._by_another_hand()
        try:
            self.edition = self._opened(self.disk)
        except InputRefused as error:
            if unwritten:
                self.row.lose(f"what was kept can't be reached: {error}")
            self.disk.put(SITE, counted.encode("utf-8"))
            self.edition = self._opened(self.disk)
        self.known = None if self.edition.unread else self.disk.read(SITE)
        if self.edition.left is not None:
            self.edition.resume()
        if sound and unwritten and self.edition.version.text != counted:
            self.row.lose("changes that counted are not offered again")

    def _by_another_hand(self) -> None:
        """The file is changed, spoilt or removed while no program has it."""
        if not self.disk.has(SITE):
            return
        text, rng = self.disk.read(SITE), self.rng
        spoilt = (
            text[: rng.randrange(len(text) + 1)],
            b"\xff" + text,
            b"",
            text.replace(b"=", b"", 1),
        )
        how = rng.choice(("changed", "spoilt", "removed"))
        if how == "removed":
            self.disk.lose(SITE)
        elif how == "spoilt":
            self.disk.put(SITE, rng.choice(spoilt))
        else:
            self.disk.put(SITE, text + f"# {rng.random()}\n".encode())

    def _look(self) -> None:
        """The disk as it is found after a cut now: whole, and with what would be gone on with."""
        self.row.times += 1
        for luck in (None, random.Random(self.rng.random())):
            try:
                edition = self._opened(self.disk.after_power_cut(luck))
            except CommissionError as error:
                self.row.lose(f"after a cut: {error}")
                continue
            self.found.append(edition.left.text if edition.left else edition.version.text)

    @staticmethod
    def _opened(disk: SimulatedDisk) -> Edition:
        def made(folder: Path) -> Path:
            if not disk.has(folder):
                disk.put(folder / "there", b"")
            return folder

        with patch.object(working_copy, "make_private", made):
            return Edition(SITE, disk, walks.clock())

    def _change(self) -> None:
        self.edition.change(_random_change(self.edition.version.site, self.rng))

    def _move(self) -> None:
        self.rng.choice((self.edition.undo, self.edition.redo))()

    def _write(self) -> None:
        sound = not self.file_in_doubt  # else the file may be ours by a write that was refused
        if sound and self.edition.unwritten and self.rng.random() < 0.2:
            self._by_another_hand()
        self.file_in_doubt = True
        there = self.disk.read(SITE) if self.disk.has(SITE) else None
        try:
            self.edition.write()
        except ChangedMeanwhile:
            beside = self.edition.write(over_newer=True)
            kept = self.disk.read(beside) if beside is not None else None
            if kept != there:
                self.row.lose("what stood in the place of the file is not kept beside it")
        else:
            if sound and there != self.known:
                self.row.lose("what another hand left is written over unasked")
        self.known = self.disk.read(SITE)
        self.file_in_doubt = False


def _random_change(site: Site, rng: random.Random) -> Change:
    path = rng.choice(site.path)
    box = rng.choice(path.segment).to_box
    station = rng.choice(site.station)
    new, number = f"N{rng.randint(1, 99)}", rng.randint(1, 400)
    length, word = f"{rng.randint(1, 400)} {rng.choice(('ft', 'm'))}", f"label {rng.random():.3f}"
    decoder, solenoid = rng.choice([*site.decoder_kind]), rng.choice([*site.solenoid_kind])
    kinds: tuple[Callable[[], Change], ...] = (
        lambda: Length(path.id, box, length, rng.choice(("tape", "wheel", ""))),
        lambda: Cable(path.id, box, rng.choice((*site.cable_kind, "12 AWG", "2.5 mm²"))),
        lambda: AddBox(path.id, box, new, length, "20 ft", word),
        lambda: AddEnd(path.id, box, new, length, "", word),
        lambda: AddStation(f"S{new}", number, number, path.id, box, decoder, solenoid),
        lambda: MoveStation(station.id, path.id, box),
        lambda: ChangeStation(station.id, number, number, solenoids=rng.choice((None, 1, 2))),
        lambda: ChangeStation(station.id, decoder="own", decoder_kind=OWN, waters=word),
        lambda: SwapAddresses(station.id, rng.choice(site.station).id),
        lambda: ChangeBox(path.id, box, word, None),
        lambda: Rename("station", station.id, word),
        lambda: Rename("box", box, word),
        lambda: DeleteStation(station.id),
        lambda: DeleteBox(path.id, box),
    )
    return rng.choice(kinds)()
