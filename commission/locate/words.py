"""What was found, in the drawing's words."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from commission.locate.faults import Fault, Place
from commission.locate.posterior import SURE, Posterior, Weighted
from commission.site.schema import ROOT, Site
from commission.text import as_counted
from commission.units import FOOT_M

INTERVAL = 0.90
"""Probability that a stated position lies in its interval, given that the place is right."""

_KINDS = {
    "joint": "a joint of about {ohm} (or longer or thinner cable than drawn)",
    "cable": "shorter or thicker cable than drawn (about {ohm} too little)",
    "open": "an open conductor",
    "short": "a short of about {ohm} between the conductors",
    "leak": "a leak of the {conductor} conductor to earth",
    "bridge": "a forgotten bridge",
    "decoder dead": "the decoder is dead",
    "wrong address": "the decoder has a wrong address",
    "same address": "two decoders have the same address",
    "swapped": "two decoders have each other's address",
    "solenoid open": "the solenoid is open",
    "solenoid shorted": "the solenoid is shorted (about {ohm})",
    "solenoid joint": "a joint of about {ohm} between decoder and solenoid",
    "low supply": "the supply is about {part} % low",
}


class Words:
    """Says places, faults and statements for one site."""

    def __init__(self, site: Site) -> None:
        self._feet = site.site.units == "US"
        self._stations = {station.id: station for station in site.station}
        self._feeds = {(path.id, s.to_box): s for path in site.path for s in path.segment}

    def knows(self, place: Place) -> bool:
        """Whether the drawing has a place."""
        kind, *names = place
        if kind == "segment":
            return tuple(names) in self._feeds
        return kind not in ("station", "pair") or self._stations.keys() >= set(names)

    def place(self, place: Place) -> str:
        """A place as the drawing names it."""
        kind, *names = place
        if kind == "segment":
            segment = self._feeds[names[0], names[1]]
            return f"between {_box(segment.from_box)} and {segment.to_box}"
        if kind == "box":
            return f"at {names[1]}"
        if kind in ("station", "pair"):
            return " and ".join(self._station(name) for name in names)
        return "at the supply" if kind == "low supply" else "nowhere"

    def _station(self, name: str) -> str:
        station = self._stations[name]
        return f"station {station.number} at {station.box}"

    def places(self, places: Iterable[Place]) -> str:
        """Several places together, "no fault" for none."""
        ordered = sorted(places, key=lambda place: [as_counted(name) for name in place])
        return "; ".join(self.place(place) for place in ordered) or "no fault"

    def fault(self, fault: Fault) -> str:
        """What is wrong there, without its place."""
        ohm = f"{abs(fault.ohm):.2g} ohm"
        part = f"{fault.ohm * 100:.0f}"
        return _KINDS[fault.kind].format(ohm=ohm, part=part, conductor=fault.conductor)

    def position(self, posterior: Posterior, place: Place) -> str:
        """Where in its segment a short lies; "" where nothing says."""
        found = short_interval(posterior, place)
        if found is None:
            return ""
        low, high = found
        segment = self._feeds[place[1], place[2]]
        near, far = (self._length(segment.length_m * part) for part in (low, high))
        unit = "ft" if self._feet else "m"
        return f"{near} to {far} {unit} from {_box(segment.from_box)}"

    def _length(self, length_m: float) -> str:
        return f"{length_m / FOOT_M if self._feet else length_m:.0f}"

    def statement(self, posterior: Posterior) -> str:
        """The most likely answer, how sure it is, what it may be there, and where exactly."""
        places, probability = posterior.best
        odds = chance(probability)
        words = f"no fault that these readings show ({odds})"
        if places:
            words = f"{self.places(places)} ({odds}): {self._what(posterior, places)}"
        if len(places) == 1 and next(iter(posterior.kinds(places))) == ("short",):
            position = self.position(posterior, next(iter(places)))
            words += f", {position}" if position else ""
        if not posterior.explained:
            words += "; but that does not explain all readings"
        return words

    def _what(self, posterior: Posterior, places: frozenset[Place]) -> str:
        """The kinds that are credible at places, those of several faults joined by "and"."""
        kinds = posterior.kinds(places)
        whole, told, said = sum(kinds.values()), 0.0, []
        for names, probability in kinds.items():
            best = next(p for p in posterior.at(places) if _named(p) == names)
            said.append(" and ".join(self.fault(fault) for fault in best.faults))
            told += probability
            if told >= SURE * whole:
                break
        return ", or ".join(said)

    def undecidable(self, posterior: Posterior) -> str:
        """The places that no available test tells apart with this meter, likeliest first."""
        told, said = 0.0, []
        for places, probability in posterior.by_places.items():
            said.append(f"{self.places(places)} ({chance(probability)})")
            told += probability
            if told >= SURE:
                break
        return "cannot be decided with this meter: " + ", or ".join(said)


def short_interval(posterior: Posterior, place: Place) -> tuple[float, float] | None:
    """The part of a segment that holds a short there with `INTERVAL`; None without one."""
    found = [
        (fault.along, point.probability)
        for point in posterior.points
        if point.places == {place}
        for fault in point.faults
        if fault.kind == "short"
    ]
    return along_interval(found) if found else None


def along_interval(weighted: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """The part of a segment that holds a position with `INTERVAL`, from weighted cell middles.

    The cells are equal; a position is evenly likely within its cell.
    """
    total: dict[float, float] = {}
    for along, weight in weighted:
        total[along] = total.get(along, 0.0) + weight
    middles = sorted(total)
    half = min((b - a for a, b in pairwise(middles)), default=1.0) / 2
    whole, outside = sum(total.values()), (1 - INTERVAL) / 2

    def quantile(part: float) -> float:
        wanted, passed = part * whole, 0.0
        for middle in middles:
            if passed + total[middle] >= wanted:
                return middle - half + 2 * half * (wanted - passed) / total[middle]
            passed += total[middle]
        return middles[-1] + half

    return max(0.0, quantile(outside)), min(1.0, quantile(1 - outside))


def chance(probability: float) -> str:
    """A probability in words that never says certain."""
    if probability >= 0.995:
        return "more than 99 in 100"
    return f"{probability * 100:.0f} in 100" if probability >= 0.01 else "less than 1 in 100"


def _named(point: Weighted) -> tuple[str, ...]:
    return tuple(sorted(fault.kind for fault in point.faults))


def _box(box: str) -> str:
    return "the output" if box == ROOT else box
