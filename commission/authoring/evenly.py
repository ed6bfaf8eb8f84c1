"""A draft from a few answers: paths of evenly spaced boxes, so many stations in each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from commission.authoring.catalogue import (
    USUAL_DECODER,
    USUAL_SOLENOID,
    cable_named,
    kinds_where,
)
from commission.authoring.draft import (
    ANSWERED,
    USUAL,
    Draft,
    DraftPath,
    DraftSegment,
    DraftStation,
    Kind,
    Kinds,
    Supply,
    Units,
    supply_where,
)
from commission.site.schema import ROOT

MAX_STATIONS = 2_000
SOLENOID, DECODER = "valve", "decoder"


@dataclass(frozen=True, slots=True)
class Answers:
    """What is asked for a new site; `solenoid` and `decoder` name own kinds, or nothing."""

    name: str
    units: Units
    supply: Supply
    paths: tuple[int, ...]  # on each output
    cable: str
    boxes: tuple[int, ...]  # on each path
    spacing: str
    stations: int  # in each box
    solenoid: str = ""
    decoder: str = ""


def drawn_evenly(answers: Answers, own: Kinds) -> Draft:
    """The draft that answers describe. Raises ValueError for what cannot be drawn."""
    count = sum(answers.boxes) * answers.stations
    if not 1 <= count <= MAX_STATIONS:
        raise ValueError(f"that makes {count} stations; 1 to {MAX_STATIONS} can be written")
    cable, conductor = cable_named(answers.cable, own)
    solenoid, decoder = answers.solenoid or SOLENOID, answers.decoder or DECODER
    assumed = [
        f"every box lies {answers.spacing} from the one before: put in the lengths as laid",
        *usual_transformers(answers.supply),
        *usual_words(answers.solenoid, answers.decoder),
    ]
    paths: list[DraftPath] = []
    stations: list[DraftStation] = []
    fed_by = [str(at) for at, paths in enumerate(answers.paths, start=1) for _ in range(paths)]
    for place, (output, last) in enumerate(zip(fed_by, answers.boxes, strict=True)):
        name = path_name(place)
        boxes = [ROOT, *(f"{name}{box}" for box in range(1, last + 1))]
        segments = tuple(DraftSegment(a, b, answers.spacing) for a, b in pairwise(boxes))
        paths.append(DraftPath(name, output, cable, "drawing", segments))
        for box in boxes[1:]:
            for _ in range(answers.stations):
                number = len(stations) + 1
                stations.append(DraftStation(number, number, name, box, decoder, solenoid))
    kinds = Kinds(
        {solenoid: kind_of(answers.solenoid, own.solenoid, USUAL_SOLENOID)},
        {decoder: kind_of(answers.decoder, own.decoder, USUAL_DECODER)},
        {cable: conductor},
    )
    return Draft(
        answers.name, answers.units, answers.supply, kinds, tuple(paths), tuple(stations),
        tuple(assumed), _where(answers) | kinds_where(kinds, own, {cable: ANSWERED}),
    )  # fmt: skip


def _where(answers: Answers) -> dict[str, str]:
    """Where what stands in the file comes from, but for the kinds."""
    asked = ("site.name", "site.units", "path.cable")
    counted = ("output.id", "path.id", "path.output", "station.id", "station.number")
    places = ("station.path", "station.box", "station.solenoid")
    return {
        **dict.fromkeys(asked, ANSWERED),
        **dict.fromkeys((*counted, *places), "counted on"),
        **supply_where(answers.supply, answers.units),
        "path.segment": f"evenly spaced, {ANSWERED}",
        "station.address": f"{USUAL}: its number",
        "station.decoder": ANSWERED if answers.decoder else USUAL,
    }


def kind_of(name: str, own: Mapping[str, Kind], usual: Kind) -> Kind:
    """A kind of the user's own, the usual data where none is named; KeyError for no such kind."""
    return own[name] if name else usual


def usual_transformers(supply: Supply) -> list[str]:
    """What stands in where a plate was not read."""
    usual = [one for one in supply.transformers if not set(one.where.values()) - {USUAL}]
    words = "the transformer: its voltage, rating and regulation, from its plate or data sheet"
    return [words] if usual else []


def usual_words(solenoid: str, decoder: str) -> list[str]:
    """What stands in where no kind of the user's own was named."""
    words = [] if solenoid else ["the solenoids: data typical of the trade, take your data sheet's"]
    return words if decoder else [*words, "the decoders: the same"]


def path_name(place: int) -> str:
    """A to Z, then AA, AB and so on."""
    letter = chr(65 + place % 26)
    return letter if place < 26 else path_name(place // 26 - 1) + letter
