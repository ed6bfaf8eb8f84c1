"""One site file being edited: its text with the changes made so far, and what is on the disk."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from commission.asked import read_file
from commission.authoring.copied import with_kinds
from commission.editing.working_copy import Kept, Origin, WorkingCopy, is_kept, sha256
from commission.host import Disk, could_not_write, stands_there, write_atomically
from commission.new_file import kept_name, write_new_file
from commission.problems import CommissionError, InputRefused
from commission.site.changes.compared import given_up
from commission.site.changes.drawing import Edited, edited
from commission.site.changes.kinds import Change
from commission.site.changes.words import Told
from commission.site.load import parse_site
from commission.site.schema import Site
from commission.text import counted, visible


class ChangedMeanwhile(InputRefused):
    """The file is not as it was when its changes began.

    `given_up` is what it says now that goes when it is written over; `gone`: it is not there.
    """

    def __init__(self, words: str, given_up: tuple[Told, ...] = (), *, gone: bool = False) -> None:
        super().__init__(words)
        self.given_up = given_up
        self.gone = gone


@dataclass(frozen=True, slots=True)
class Version:
    """The text at one moment, the site that it describes, and the changes that led to it."""

    text: str
    site: Site
    origin: Origin
    changes: tuple[Told, ...] = ()
    step: Told | None = None  # the last of them; several at once where they were left before


def _several(count: int) -> Told:
    return "changes kept earlier", "none of them", f"{count} of them"


class Edition:
    """A site file with its changes; every change is on the disk before it counts.

    Only `write` touches the site file. `left` is what an earlier program kept and did not write.
    `unread` says why the file can't be used, where it is gone or spoilt and changes of it were
    kept: they can be gone on with, and `written` is the file as it was when they began.
    """

    def __init__(self, path: Path, disk: Disk, now: Callable[[], datetime]) -> None:
        """Raises InputRefused with every problem of the file, HeldByAnother, CouldNotWrite."""
        self.path = path.resolve()
        self.name = visible(path.name)
        self._disk, self._now = disk, now
        found: Version | InputRefused
        try:
            found = self._version(read_file(disk, self.path))
        except InputRefused as error:
            if not is_kept(self.path, disk):
                raise
            found = error
        self._copy = WorkingCopy(self.path, disk, now)
        try:
            self.left: Kept | None = self._copy.read()
            if isinstance(found, Version):
                self.unread, self.written = "", found
            else:
                self.unread, self.written = str(found), self._began_from(found)
            if self.left is not None and self.left.text == self.written.text and not self.unread:
                self.left = None  # it was written; only its removal did not come about
        except CommissionError:
            self._copy.release()
            raise
        self._versions, self._at = [self.written], 0
        self._made: Edited | None = None  # the last change, which the next one mostly builds on

    def _version(self, content: bytes) -> Version:
        """A file as a version. Raises InputRefused."""
        site = parse_site(content, self.name)
        text = content.decode("utf-8")
        return Version(text, site, Origin.of(text))

    def _began_from(self, refused: InputRefused) -> Version:
        """The file as it was when what was left began, else that itself; raises InputRefused."""
        if self.left is None:
            raise refused
        for text in (self.left.origin.text, self.left.text):
            try:
                return replace(self._version(text.encode("utf-8")), origin=self.left.origin)
            except InputRefused as error:
                why = error
        count = counted(len(self.left.changes), "change")
        words = f"what was not written ({count}) is kept in {self.kept_in}"
        raise InputRefused(f"{refused}\n{words}, but can't be gone on with:\n{why}")

    @property
    def version(self) -> Version:
        """What counts now."""
        return self._versions[self._at]

    @property
    def before(self) -> Version:
        """What counted before the last change."""
        return self._versions[max(0, self._at - 1)]

    @property
    def unwritten(self) -> bool:
        """Whether the file is another than what counts now; not while something is left."""
        return self.left is None and bool(self.unread or self.version.text != self.written.text)

    @property
    def kept_in(self) -> str:
        """Where what is not written is kept."""
        return visible(str(self._copy.path))

    @property
    def unwritten_changes(self) -> tuple[Told, ...]:
        """What leads from the file to what counts now: changes taken back since, and made."""
        written, now = self.written.changes, self.version.changes
        pairs = enumerate(zip(written, now, strict=False))
        same = next((n for n, (a, b) in pairs if a != b), min(len(written), len(now)))
        back = ((what, after, before) for what, before, after in reversed(written[same:]))
        return (*back, *now[same:])

    @property
    def left_is_of_this_file(self) -> bool:
        """Whether the changes that were left began from the file as it is now."""
        if self.left is None or self.unread:
            return False
        return self.left.origin.sha256 == self.written.origin.sha256

    @property
    def given_up(self) -> tuple[Told, ...]:
        """What the file says now that goes when what was left is gone on with and written."""
        if self.left is None or self.unread or self.left_is_of_this_file:
            return ()
        return given_up(self.left.origin.text, self.written.text, self.left.text)

    @property
    def to_take_back(self) -> Told | None:
        """The change that `undo` takes back."""
        return self.version.step if self._at else None

    @property
    def to_do_again(self) -> Told | None:
        """The change that `redo` makes again."""
        after = self._versions[self._at + 1 :]
        return after[0].step if after else None

    def change(self, change: Change) -> None:
        """Make a change. Raises InputRefused, CouldNotWrite, and then nothing has changed."""
        now = self.version
        made = edited(with_kinds(now.text, change), change, self.name, self._made)
        if made.site == now.site:
            raise InputRefused("this is so already")
        after = Version(made.text, made.site, now.origin, (*now.changes, made.told), made.told)
        self._step_to([*self._versions[: self._at + 1], after], self._at + 1)
        self._made = made

    def undo(self) -> None:
        """Take the last change back: the same bytes as before it. Raises CouldNotWrite."""
        if self._at:
            self._step_to(self._versions, self._at - 1)

    def redo(self) -> None:
        """Make a change again that was taken back. Raises CouldNotWrite."""
        if self._at + 1 < len(self._versions):
            self._step_to(self._versions, self._at + 1)

    def resume(self) -> None:
        """Go on with what was left. Raises InputRefused where it is no site file."""
        assert self.left is not None
        text = self.left.text
        site = parse_site(text.encode("utf-8"), self.kept_in)
        changes = self.left.changes
        step = changes[0] if len(changes) == 1 else _several(len(changes))
        self._versions = [self.written, Version(text, site, self.left.origin, changes, step)]
        self._at, self.left = 1, None

    def put_aside(self) -> Path | None:
        """Begin from the file; changes of another state of it are written beside it, never lost.

        Returns where they lie. Raises CouldNotWrite, InputRefused.
        """
        beside = None
        if self.left is not None and not self.left_is_of_this_file:
            beside = self._beside("unwritten", self.left.text.encode("utf-8"))
        self._copy.drop()
        self.left = None
        return beside

    def write(self, *, over_newer: bool = False) -> Path | None:
        """Write what counts now into the file.

        `over_newer`: also where another program has changed it since; what it is now is kept
        beside it, and that place returned. Raises ChangedMeanwhile, InputRefused, CouldNotWrite.
        """
        self._refuse_while_left()
        content, beside = self._content_now(), None
        if content is None or self.unread or sha256(content) != self.version.origin.sha256:
            if not over_newer:
                raise self._changed_meanwhile(content)
            if content is not None:
                beside = self._beside("other", content)
        data = self.version.text.encode("utf-8")
        permissions_of = None if content is None else self.path
        write_atomically(self._disk, self.path, data, permissions_of=permissions_of)
        # Whatever is taken back from here on is a change of this file.
        origin = Origin.of(self.version.text)
        self._versions = [replace(one, origin=origin) for one in self._versions]
        self.written, self.unread = self.version, ""
        self._copy.drop()
        return beside

    def _content_now(self) -> bytes | None:
        """The bytes of the file as it is now; None where it is gone."""
        return read_file(self._disk, self.path) if stands_there(self._disk, self.path) else None

    def _changed_meanwhile(self, content: bytes | None) -> ChangedMeanwhile:
        nothing = "nothing is written yet"
        if content is None:
            return ChangedMeanwhile(f"{self.name} is not there any more; {nothing}", gone=True)
        origin, text = self.version.origin, content.decode("utf-8", "replace")
        words = "was changed by another program after these changes began"
        lost = given_up(origin.text, text, self.version.text)
        return ChangedMeanwhile(f"{self.name} {words}; {nothing}", lost)

    def drop(self) -> None:
        """Go back to the file as it was opened or last written.

        Raises CouldNotWrite, and InputRefused where no file is left that could be gone back to.
        """
        self._refuse_while_left()
        if self._only_here():
            raise InputRefused(f"{self.name} can't be read: only what is kept here is whole")
        self._step_to([self.written], 0)

    def close(self) -> None:
        """Let other programs edit the file; what is not written is kept."""
        self._copy.release()

    def _refuse_while_left(self) -> None:
        if self.left is not None:
            raise InputRefused("first say what becomes of the changes that were kept earlier")

    def _only_here(self) -> bool:
        """Whether the file is gone or spoilt, by now too: then nothing else holds what counts."""
        try:
            content = self._content_now()
            if content is not None and sha256(content) != self.written.origin.sha256:
                self._version(content)
        except InputRefused:
            return True
        return content is None or bool(self.unread)

    def _forget(self) -> None:
        """The file has it all: let that be on the medium, then drop the working copy."""
        try:
            self._disk.sync_directory(self.path.parent)
        except OSError as error:
            raise could_not_write(self.path, error) from error
        self._copy.drop()

    def _beside(self, why: str, data: bytes) -> Path:
        kept = kept_name(self.path, self._disk, self._now(), why)
        return write_new_file(data, str(kept), kept, self._disk)

    def _step_to(self, versions: list[Version], at: int) -> None:
        """Make a version count, once it is on the disk."""
        self._refuse_while_left()
        before, self._versions, self._at = (self._versions, self._at), versions, at
        try:
            self._settle()
        except CommissionError:
            self._versions, self._at = before
            with suppress(CommissionError):  # what was kept may have gone before the disk refused
                self._settle()
            raise

    def _settle(self) -> None:
        """Let the disk hold what counts: in the working copy, or in the file alone."""
        if self.unwritten or self._only_here():
            self._copy.keep(self.version.text, self.unwritten_changes, self.version.origin)
        else:
            self._forget()
