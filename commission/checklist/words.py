"""The placeholders that a checklist's texts may hold, and what they become.

A placeholder is a name in braces, nothing else: no formats, no expressions. Each is known only
where it means something: `{number}` for a station, not for a path.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from commission.checklist.schema import ENCLOSING, Scope
from commission.checklist.targets import Target
from commission.site.schema import CableKind, DecoderKind, Site, Station
from commission.site.tree import PathTree
from commission.units import Quantity, in_unit, length_words, plain

_IN_BRACES = re.compile(r"\{([^{}]*)\}")


def placeholders(text: str) -> Iterator[str]:
    """The names in braces of a text; a brace without its partner comes as itself."""
    for match in _IN_BRACES.finditer(text):
        yield match[1]
    yield from (mark for mark in "{}" if mark in _IN_BRACES.sub("", text))


def from_scope(scope: Scope) -> frozenset[Scope]:
    """A scope and all that lie in it."""
    return frozenset(
        inner for inner, wider in ENCLOSING.items() if inner == scope or scope in wider
    )


@dataclass(frozen=True, slots=True)
class Placeholder:
    """What a name in braces stands for, where it may be used, and how it is found."""

    meaning: str
    scopes: frozenset[Scope]
    value: Callable[[Words, Target], str]


class Words:
    """Fills the placeholders of a site's texts."""

    def __init__(self, site: Site, trees: Mapping[str, PathTree]) -> None:
        self.site = site
        self.trees = trees
        self.stations = {station.id: station for station in site.station}
        self.paths = {path.id: path for path in site.path}
        self.outputs = {output.id: output for output in site.output}

    def fill(self, text: str, target: Target) -> str:
        """The text with every placeholder replaced by its value at a target."""
        if "{" not in text:
            return text
        return _IN_BRACES.sub(lambda match: PLACEHOLDERS[match[1]].value(self, target), text)

    def station(self, target: Target) -> Station:
        """The station of a station's step."""
        return self.stations[target.station]

    def decoder(self, target: Target) -> DecoderKind:
        """The kind of decoder of a station's step."""
        return self.site.decoder_kind[self.station(target).decoder]

    def label_of_box(self, target: Target) -> str:
        """The label of a box; its id when it has none."""
        labels = {box.id: box.label for box in self.paths[target.path].box}
        return labels.get(target.box) or target.box

    def distance(self, target: Target) -> str:
        """Length of cable from the controller to a box."""
        distance_m = self.trees[target.path].distance_m(target.box)
        return length_words(distance_m, self.site.site.units)

    def cable(self, target: Target) -> str:
        """The cable that leads to a box, or all cables of a path."""
        path, tree = self.paths[target.path], self.trees[target.path]
        segments = [tree.feeds[target.box]] if target.box else path.segment
        pairs = dict.fromkeys(segment.cable or path.cable for segment in segments)
        return listed([self._pair(first, second) for first, second in pairs])

    def _pair(self, first: str, second: str) -> str:
        kinds = self.site.cable_kind
        one, other = _cable_words(kinds[first]), _cable_words(kinds[second])
        return one if first == second else f"{one} with {other}"


def _cable_words(kind: CableKind) -> str:
    words = f"{kind.conductor} {'stranded' if kind.stranded else 'solid'}"
    return f"{words} ({kind.marking})" if kind.marking else words


def listed(words: list[str]) -> str:
    """Words in a row: "7, 9 and 12"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))


def _solenoids(station: Station) -> str:
    names = [solenoid.label or solenoid.id for solenoid in station.solenoid]
    return f"solenoid{'s' if len(names) > 1 else ''} {listed(names)}"


def tidy(value: float, unit: str, quantity: Quantity) -> str:
    """An SI value in `unit` with three digits at most and no idle zeros: "0.5 Mohm"."""
    number = plain(in_unit(value, unit, quantity))
    return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {unit}"


def resistance(value_ohm: float) -> str:
    """A resistance in the unit that people use for its size."""
    for unit, from_ohm in (("Mohm", 1e5), ("kohm", 1e3)):
        if value_ohm >= from_ohm:
            return tidy(value_ohm, unit, "resistance")
    return tidy(value_ohm, "ohm", "resistance")


def _lowest_mains(site: Site) -> str:
    return tidy(site.supply.lowest_voltage_v, "V", "voltage")


_ANYWHERE = from_scope("job")
_OUTPUT, _PATH = from_scope("output"), from_scope("path")
_BOX = from_scope("box")
_STATION: frozenset[Scope] = frozenset({"station"})
_TOGETHER: frozenset[Scope] = frozenset({"worst-set"})
_ONLY_PATH: frozenset[Scope] = frozenset({"path"})

PLACEHOLDERS: dict[str, Placeholder] = {
    "site": Placeholder("name of the site", _ANYWHERE, lambda w, t: w.site.site.name),
    "controller": Placeholder(
        "what the controller is", _ANYWHERE, lambda w, t: w.site.controller.description
    ),
    "mains": Placeholder(
        "nominal mains voltage",
        _ANYWHERE,
        lambda w, t: tidy(w.site.supply.nominal_voltage_v, "V", "voltage"),
    ),
    "lowest_mains": Placeholder(
        "lowest mains that must do", _ANYWHERE, lambda w, t: _lowest_mains(w.site)
    ),
    "earth_limit": Placeholder(
        "most that the electrode may have",
        _ANYWHERE,
        lambda w, t: resistance(w.site.earth.limit_ohm),
    ),
    "earthing_conductor": Placeholder(
        "size of the earthing conductor",
        _ANYWHERE,
        lambda w, t: w.site.earth.conductor or "the size required",
    ),
    "conductor_limit": Placeholder(
        "most that the earthing conductor may have",
        _ANYWHERE,
        lambda w, t: resistance(w.site.earth.conductor_limit_ohm),
    ),
    "insulation_limit": Placeholder(
        "least insulation resistance",
        _ANYWHERE,
        lambda w, t: resistance(w.site.limits.min_insulation_ohm),
    ),
    "leak_limit": Placeholder(
        "least resistance to earth by multimeter",
        _ANYWHERE,
        lambda w, t: resistance(w.site.limits.min_leak_ohm),
    ),
    "unbridged_limit": Placeholder(
        "least unbridged reading",
        _ANYWHERE,
        lambda w, t: resistance(w.site.limits.min_unbridged_ohm),
    ),
    "dead_limit": Placeholder(
        "most voltage of a dead path",
        _ANYWHERE,
        lambda w, t: tidy(w.site.limits.max_dead_voltage_v, "V", "voltage"),
    ),
    "closing_limit": Placeholder(
        "longest time for a valve to close",
        _ANYWHERE,
        lambda w, t: tidy(w.site.limits.max_closing_time_s, "s", "time"),
    ),
    "output": Placeholder("id of the output", _OUTPUT, lambda w, t: t.output),
    "output_label": Placeholder(
        "label of the output, else its id",
        _OUTPUT,
        lambda w, t: w.outputs[t.output].label or t.output,
    ),
    "path": Placeholder("id of the path", _PATH, lambda w, t: t.path),
    "path_label": Placeholder(
        "label of the path, else its id", _PATH, lambda w, t: w.paths[t.path].label or t.path
    ),
    "cable": Placeholder(
        "cable of the path, or the one that leads to the box", _PATH, lambda w, t: w.cable(t)
    ),
    "ends": Placeholder(
        "all ends of the path", _ONLY_PATH, lambda w, t: listed(list(w.trees[t.path].ends()))
    ),
    "box": Placeholder("id of the box", _BOX, lambda w, t: t.box),
    "box_label": Placeholder("label of the box, else its id", _BOX, lambda w, t: w.label_of_box(t)),
    "distance": Placeholder(
        "cable length from the controller, in the site's units", _BOX, lambda w, t: w.distance(t)
    ),
    "station": Placeholder("id of the station", _STATION, lambda w, t: t.station),
    "station_label": Placeholder(
        "label of the station, else its id",
        _STATION,
        lambda w, t: w.station(t).label or t.station,
    ),
    "number": Placeholder("number of the station", _STATION, lambda w, t: str(w.station(t).number)),
    "address": Placeholder(
        "address of the decoder", _STATION, lambda w, t: str(w.station(t).address)
    ),
    "waters": Placeholder(
        "what the station waters",
        _STATION,
        lambda w, t: w.station(t).waters or "what it waters",
    ),
    "decoder": Placeholder("kind of decoder", _STATION, lambda w, t: w.station(t).decoder),
    "solenoids": Placeholder(
        "the station's solenoids by name", _STATION, lambda w, t: _solenoids(w.station(t))
    ),
    "indicator_running": Placeholder(
        "what the indicator does while running",
        _STATION,
        lambda w, t: w.decoder(t).indicator_running,
    ),
    "indicator_idle": Placeholder(
        "what the indicator does when idle", _STATION, lambda w, t: w.decoder(t).indicator_idle
    ),
    "stations": Placeholder(
        "numbers of the stations run together",
        _TOGETHER,
        lambda w, t: listed([str(w.stations[station].number) for station in t.stations]),
    ),
    "worst": Placeholder(
        "number and box of the station with the lowest voltage",
        _TOGETHER,
        lambda w, t: f"{w.stations[t.stations[-1]].number} in box {w.stations[t.stations[-1]].box}",
    ),
}
