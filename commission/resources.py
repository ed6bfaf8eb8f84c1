"""The checklists and samples that come with the program, in a checkout or in a wheel."""

from __future__ import annotations

import re
from pathlib import Path

from commission.problems import InputRefused, nearest

# A site file of the user's may lie anywhere, so no path to the schema would be right in it.
SCHEMA_HINT = """\
# For an editor that knows JSON Schemas: `commission schema site > site.schema.json` beside this
# file, and "#:schema ./site.schema.json" as its first line.
"""
_SCHEMA_LINE = re.compile(r"\A#:schema [^\r\n]*\r?\n")
_PACKAGE = Path(__file__).resolve().parent


def checklists() -> dict[str, Path]:
    """The checklists that come with the program, by the name of their file."""
    return _files("checklists")


def samples() -> dict[str, Path]:
    """The invented sites that come with the program, by the name of their file."""
    return _files("sample_sites")


def is_sample(path: Path) -> bool:
    """Whether a path is one of the samples themselves, not a copy of one."""
    return path.resolve() in {sample.resolve() for sample in samples().values()}


def copy_sample(name: str, into: Path) -> Path:
    """Copy a sample into a folder of the user's and return the copy; an earlier copy is kept as is.

    Where the sample has the path to its schema, the copy has words how to get one.
    Raises InputRefused for an unknown name, CouldNotWrite when the disk refuses.
    """
    known = samples()
    if name not in known:
        raise InputRefused(f"there is no sample '{name}'; {nearest(name, known)}")
    from commission.host import Disk, write_atomically
    from commission.user.folder import make_private

    copy = make_private(into) / known[name].name
    if copy.exists():
        return copy
    content = with_schema_hint(known[name].read_bytes().decode("utf-8"))
    write_atomically(Disk(), copy, content.encode("utf-8"))
    return copy


def with_schema_hint(site: str) -> str:
    """A site file that goes elsewhere: where it began with a path to its schema, with words."""
    return _SCHEMA_LINE.sub(SCHEMA_HINT, site)


def _files(folder: str) -> dict[str, Path]:
    """TOML files of a folder: in the wheel within the package, in a checkout beside it."""
    places = (_PACKAGE / "data" / folder, _PACKAGE.parent / folder)
    found = next((place for place in places if place.is_dir()), None)
    return {path.stem: path for path in sorted(found.glob("*.toml"))} if found else {}
