"""A disk that keeps apart what was written and what was synced, and can lose its power.

What POSIX promises is all that survives: the content of a file as of its last fsync, the names in
a folder as of that folder's last fsync, a rename wholly or not at all.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from random import Random

from commission.host import Disk, DiskFile, Stamp

_inodes = count(1)


class PowerCut(BaseException):
    """The machine stops here: no handler of the program runs."""


@dataclass(eq=False)
class _File:
    live: bytes = b""
    synced: bytes = b""
    inode: int = field(default_factory=lambda: next(_inodes))


@dataclass(eq=False)
class _Folder:
    live: dict[str, _Node] = field(default_factory=dict)
    synced: dict[str, _Node] = field(default_factory=dict)
    pending: list[dict[str, _Node | None]] = field(default_factory=list)  # each wholly or not
    inode: int = field(default_factory=lambda: next(_inodes))

    def change(self, names: dict[str, _Node | None]) -> None:
        self.pending.append(names)
        _apply(self.live, names)


_Node = _File | _Folder


def _apply(names: dict[str, _Node], change: dict[str, _Node | None]) -> None:
    for name, node in change.items():
        if node is None:
            names.pop(name, None)
        else:
            names[name] = node


class SimulatedDisk(Disk):
    """An empty disk. Calls that change it are numbered from 1.

    `cut_after` cuts the power after that call; `fails` is asked before each call and may return
    an errno: then a write leaves half of its bytes, a sync of a file is done all the same, and
    anything else does nothing.
    """

    def __init__(self, root: _Folder | None = None) -> None:
        self._root = root or _Folder()
        self.calls = 0
        self.cut_after: int | None = None
        self.fails: Callable[[str, int], int] = lambda call, number: 0

    # What the program calls.

    def make_directory(self, path: Path) -> None:
        self._change("make_directory", path, lambda: self._add(path, _Folder()))

    def create(self, path: Path) -> DiskFile:
        node = _File()
        self._change("create", path, lambda: self._add(path, node))
        return _OpenFile(self, node)

    def open_at_end(self, path: Path) -> DiskFile:
        return _OpenFile(self, self._file(path))

    def read(self, path: Path, limit: int | None = None) -> bytes:
        return self._file(path).live[:limit]

    def stamp(self, path: Path) -> Stamp:
        return _stamp(self._node(path))

    def names(self, path: Path) -> list[str]:
        return sorted(self._folder(path).live)

    def rename_directory(self, source: Path, target: Path) -> None:
        self._change("rename_directory", target, lambda: self._move(source, target))

    def replace(self, source: Path, target: Path) -> None:
        self._change("replace", target, lambda: self._move(source, target))

    def copy_permissions(self, source: Path, target: Path) -> None:
        self._change("copy_permissions", target, lambda: self._both(source, target))

    def remove(self, path: Path) -> None:
        self._change("remove", path, lambda: self._drop(path))

    def remove_directory(self, path: Path) -> None:
        self._change("remove_directory", path, lambda: self._drop(path))

    def sync_directory(self, path: Path) -> None:
        self._change("sync_directory", path, lambda: self._sync_names(path))

    # What a test does to it.

    def fail_at(self, number: int, failure: int) -> None:
        """Let one call, by its number, fail with this errno."""
        self.fails = lambda call, at: failure if at == number else 0

    def after_power_cut(self, lucky: Random | None = None) -> SimulatedDisk:
        """The disk as it is found again: only what was synced, or some of the rest with it."""
        return SimulatedDisk(_survivor(self._root, lucky))  # type: ignore[arg-type]

    def put(self, path: Path, data: bytes) -> None:
        """Make a file, synced, by another hand; folders above it are made too."""
        folder = self._root
        for part in path.parts[1:-1]:
            folder = folder.live.setdefault(part, _Folder())  # type: ignore[assignment]
            folder.synced = folder.live
        folder.live[path.name] = _File(data, data)
        _sync_everything(self._root)

    def has(self, path: Path) -> bool:
        """Whether something stands under a name."""
        try:
            self._node(path)
        except FileNotFoundError:
            return False
        return True

    def lose(self, path: Path) -> None:
        """Take a file or folder away by another hand."""
        self._drop(path)

    # The parts of both.

    def _change(self, call: str, path: Path, act: Callable[[], None]) -> None:
        self.begin(call)
        act()
        self.done()

    def begin(self, call: str, half: Callable[[], None] | None = None) -> None:
        self.calls += 1
        if number := self.fails(call, self.calls):
            if half:
                half()
            raise OSError(number, os.strerror(number))

    def done(self) -> None:
        if self.calls == self.cut_after:
            raise PowerCut

    def _node(self, path: Path) -> _Node:
        node: _Node = self._root
        for part in path.parts[1:]:
            if not isinstance(node, _Folder) or part not in node.live:
                raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(path))
            node = node.live[part]
        return node

    def _file(self, path: Path) -> _File:
        node = self._node(path)
        if isinstance(node, _Folder):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        return node

    def _folder(self, path: Path) -> _Folder:
        node = self._node(path)
        if isinstance(node, _File):
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        return node

    def _both(self, source: Path, target: Path) -> None:
        """Both are there; who may read them is not kept here."""
        self._node(source)
        self._node(target)

    def _add(self, path: Path, node: _Node) -> None:
        folder = self._folder(path.parent)
        if path.name in folder.live:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
        folder.change({path.name: node})

    def _move(self, source: Path, target: Path) -> None:
        assert source.parent == target.parent
        node = self._node(source)
        there = self._folder(target.parent).live.get(target.name)
        if isinstance(there, _Folder) and there.live:
            raise OSError(errno.ENOTEMPTY, os.strerror(errno.ENOTEMPTY))
        self._folder(source.parent).change({source.name: None, target.name: node})

    def _drop(self, path: Path) -> None:
        self._node(path)
        self._folder(path.parent).change({path.name: None})

    def _sync_names(self, path: Path) -> None:
        folder = self._folder(path)
        folder.synced = dict(folder.live)
        folder.pending.clear()


class _OpenFile(DiskFile):
    def __init__(self, disk: SimulatedDisk, node: _File) -> None:
        self._disk = disk
        self._node = node

    def write(self, data: bytes) -> None:
        self._disk.begin("write", half=lambda: self._add(data[: len(data) // 2]))
        self._add(data)
        self._disk.done()

    def _add(self, data: bytes) -> None:
        self._node.live += data

    def truncate(self, size: int) -> None:
        self._disk.begin("truncate")
        self._node.live = self._node.live[:size]
        self._disk.done()

    def sync(self) -> None:
        self._disk.begin("sync", half=self._reach_the_medium)
        self._reach_the_medium()
        self._disk.done()

    def _reach_the_medium(self) -> None:
        self._node.synced = self._node.live

    def stamp(self) -> Stamp:
        return _stamp(self._node)

    def close(self) -> None:
        """Nothing to let go of."""


def _stamp(node: _Node) -> Stamp:
    is_file = isinstance(node, _File)
    return Stamp(1, node.inode, len(node.live), is_file)


def _survivor(node: _Node, lucky: Random | None) -> _Node:
    if isinstance(node, _File):
        content = _some_of(node, lucky) if lucky else node.synced
        return _File(content, content)
    names = dict(node.synced)
    for change in node.pending:
        if lucky and lucky.random() < 0.5:
            _apply(names, change)
    kept = {name: _survivor(child, lucky) for name, child in names.items()}
    return _Folder(dict(kept), kept)


def _some_of(file: _File, lucky: Random) -> bytes:
    """Some of the bytes that were not synced, with a hole of zeros where others were lost."""
    if len(file.live) < len(file.synced):
        return lucky.choice([file.live, file.synced])
    same = _same_bytes(file.live, file.synced)
    end = lucky.randint(same, len(file.live))
    if lucky.random() < 0.5:
        end = len(file.live)
    first, last = sorted((lucky.randint(same, end), lucky.randint(same, end)))
    if lucky.random() < 0.3:
        first = last
    return file.live[:first] + bytes(last - first) + file.live[last:end]


def _same_bytes(one: bytes, other: bytes) -> int:
    pairs = enumerate(zip(one, other, strict=False))
    return next((place for place, (a, b) in pairs if a != b), min(len(one), len(other)))


def _sync_everything(node: _Node) -> None:
    if isinstance(node, _File):
        node.synced = node.live
        return
    node.synced = dict(node.live)
    node.pending.clear()
    for child in node.live.values():
        _sync_everything(child)
