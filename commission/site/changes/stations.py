"""Changes of stations, in the tables of a site file."""

from __future__ import annotations

from copy import deepcopy
from itertools import count
from typing import Any

from commission.problems import InputRefused
from commission.site.changes.found import Table, drop, feeding, found
from commission.site.changes.kinds import (
    AddStation,
    ChangeStation,
    DeleteStation,
    MoveStation,
    SwapAddresses,
)


def add_station(table: Table, change: AddStation) -> None:
    """A station in a box that is there."""
    feeding(table, change.path, change.box)
    taken = {row["id"].lower() for row in table["station"]}
    if change.station.lower() in taken:
        raise InputRefused(f"station id '{change.station}' is taken")
    coils = {coil["id"].lower() for row in table["station"] for coil in row["solenoid"]}
    wanted = [f"{change.station}.{n}"[-16:] for n in range(1, change.solenoids + 1)]
    if coils & {one.lower() for one in wanted}:
        raise InputRefused(f"a solenoid has the id '{wanted[0]}' already; take another station id")
    row: dict[str, Any] = {
        "id": change.station,
        "number": change.number,
        "address": change.address,
        "path": change.path,
        "box": change.box,
        "decoder": change.decoder,
        "solenoid": [{"id": one, "kind": change.solenoid} for one in wanted],
    }
    told = {"label": change.label, "waters": change.waters}
    table["station"].append(row | {key: value for key, value in told.items() if value})


def change_station(table: Table, change: ChangeStation) -> None:
    """Other data of a station."""
    station = found(table["station"], change.station, "station")
    for key in ("number", "address", "decoder", "waters", "label"):
        value = getattr(change, key)
        if value is not None:
            station[key] = value
    coils = station["solenoid"]
    for coil in coils if change.solenoid is not None else ():
        coil["kind"] = change.solenoid
    if change.solenoids is not None:
        _count_coils(table, change.station, coils, change.solenoids)


def _count_coils(table: Table, station: str, coils: Any, wanted: int) -> None:
    """Make a station's solenoids so many: the last ones go, or more of the last one's kind come."""
    if wanted < 1:
        raise InputRefused("a station has one solenoid at least")
    del coils[wanted:]
    taken = {coil["id"].lower() for row in table["station"] for coil in row["solenoid"]}
    ids = (f"{station}.{n}"[-16:] for n in count(1))
    while len(coils) < wanted:
        new = next(one for one in ids if one.lower() not in taken)
        coil = deepcopy(coils[-1])  # written as the one before it, where it comes from a file
        coil.pop("label", None)
        coil["id"] = new
        coils.append(coil)


def swap_addresses(table: Table, change: SwapAddresses) -> None:
    """Each of two stations at the other's address."""
    first, second = (
        found(table["station"], one, "station") for one in (change.station, change.other)
    )
    first["address"], second["address"] = int(second["address"]), int(first["address"])


def move_station(table: Table, change: MoveStation) -> None:
    """A station in another box."""
    station = found(table["station"], change.station, "station")
    feeding(table, change.path, change.box)
    station["path"], station["box"] = change.path, change.box


def delete_station(table: Table, change: DeleteStation) -> None:
    """A station that goes."""
    found(table["station"], change.station, "station")
    drop(table, "station", "id", change.station)
