"""The truth of a practice: the faults that were hidden, kept beside the record until the end."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from commission.host import Disk, write_atomically
from commission.locate.faults import OPEN_OHM, Fault, FaultKind
from commission.practice import TRUTH
from commission.problems import InputRefused
from commission.shapes import shape, validate
from commission.site.schema import Site
from commission.text import visible
from commission.toml_place import parse_toml

KIND: Final = "commission practice truth"
FORMAT: Final = 1
Difficulty = Literal["easy", "plain", "hard"]


@dataclass(frozen=True, slots=True)
class Level:
    """What a difficulty means: how large the site is, and what may be wrong on it."""

    boxes: tuple[int, int]
    kinds: tuple[FaultKind, ...]
    joint_ohm: tuple[float, float]


LEVELS: Final[dict[Difficulty, Level]] = {
    "easy": Level((5, 7), ("open", "joint", "decoder dead", "solenoid open"), (5.0, 50.0)),
    "plain": Level(
        (8, 13),
        (
            "open", "joint", "short", "decoder dead", "wrong address", "swapped", "same address",
            "solenoid open", "solenoid shorted",
        ),
        (2.0, 50.0),
    ),
    "hard": Level(
        (14, 22),
        (
            "open", "joint", "short", "leak", "wrong address", "swapped", "same address",
            "solenoid shorted", "solenoid joint",
        ),
        (0.8, 8.0),
    ),
}  # fmt: skip


@shape
class _Row:
    """One hidden fault in the file."""

    kind: str
    box: str = ""
    station: str = ""
    other: str = ""
    ohm: float = 0.0
    along: float = 0.0
    conductor: str = ""


@shape
class _File:
    """The file: the random state from which the meter's and the site's own errors follow."""

    kind: str
    format: int
    random: int
    fault: tuple[_Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Truth:
    """What is wrong on a practice site, and the random state of all that is not exactly known."""

    random: int
    faults: tuple[Fault, ...]


def hidden(rng: random.Random, site: Site, level: Level, count: int) -> tuple[Fault, ...]:
    """So many faults at different stations and in different segments."""
    names = [station.id for station in site.station]
    if count > len(names) // 2:
        raise InputRefused(f"at most {len(names) // 2} faults fit on this site")
    free = rng.sample(names, 2 * count)
    return tuple(
        _fault(rng, level, rng.choice(level.kinds), *free[2 * n : 2 * n + 2]) for n in range(count)
    )


def _fault(rng: random.Random, level: Level, kind: FaultKind, station: str, other: str) -> Fault:
    box = station.replace("S", "B", 1)  # as the site is made
    if kind == "joint":
        low, high = (math.log(ohm) for ohm in level.joint_ohm)
        return Fault(kind, "A", box, ohm=round(math.exp(rng.uniform(low, high)), 2))
    if kind == "short":
        ohm, along = round(rng.uniform(0.0, 5.0), 2), round(rng.random(), 2)
        return Fault(kind, "A", box, ohm=ohm, along=along)
    if kind == "open":
        return Fault(kind, "A", box, ohm=OPEN_OHM)
    if kind == "leak":
        conductor, ohm = rng.choice(("first", "second")), round(rng.uniform(500, 50_000))
        return Fault(kind, "A", box, ohm=ohm, conductor=conductor)
    if kind in ("swapped", "same address"):
        return Fault(kind, "A", box, station, other=other)
    sizes = {"solenoid shorted": (0.5, 10.0), "solenoid joint": (30.0, 200.0)}
    ohm = round(rng.uniform(*sizes[kind]), 1) if kind in sizes else 0.0
    return Fault(kind, "A", box, station, ohm=ohm)


def keep(disk: Disk, folder: Path, truth: Truth) -> None:
    """Put the truth into a job's folder; raises CouldNotWrite."""
    lines = [
        "# The truth of this practice: reading it spoils it. The walk shows it at the end.",
        f'kind = "{KIND}"', f"format = {FORMAT}", f"random = {truth.random}",
    ]  # fmt: skip
    for fault in truth.faults:
        lines += ["", "[[fault]]", *_rows(fault)]
    write_atomically(disk, folder / TRUTH, ("\n".join(lines) + "\n").encode("utf-8"))


def _rows(fault: Fault) -> Iterable[str]:
    yield f'kind = "{fault.kind}"'
    for key in ("box", "station", "other", "conductor"):
        if getattr(fault, key):
            yield f'{key} = "{getattr(fault, key)}"'
    yield f"ohm = {float(fault.ohm)!r}"
    yield f"along = {float(fault.along)!r}"


def read(disk: Disk, folder: Path) -> Truth | None:
    """The truth in a job's folder; None where there is none. Raises InputRefused when damaged."""
    path = folder / TRUTH
    try:
        content = disk.read(path)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InputRefused(f"{visible(str(path))} can't be read: {error.strerror}") from error
    table, _ = parse_toml(content, TRUTH)
    try:
        file = validate(_File, table)
        faults = tuple(
            Fault(_KINDS[r.kind], "A", r.box, r.station, r.other, r.ohm, r.along, r.conductor)
            for r in file.fault
        )
    except (ValueError, KeyError) as error:
        raise InputRefused(f"{TRUTH} is not as it was written; begin another practice") from error
    return Truth(file.random, faults)


_KINDS: dict[str, FaultKind] = {kind: kind for one in LEVELS.values() for kind in one.kinds}
