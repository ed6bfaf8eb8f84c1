"""The site file, format 1: one controller with its outputs, paths, boxes and stations.

Every quantity is written with its unit ("180 ft") and held here as an SI number whose name ends in
the unit. The key in the file is the name without that ending, so `length = "180 ft"` becomes
`length_m`. Ids are permanent and short; labels are free text and may be renamed.
"""

from __future__ import annotations

import re
from dataclasses import field
from typing import Annotated, Any, Literal

from commission.shapes import AtLeast, Checked, Text, checked_text, shape, whole
from commission.units import SI_UNIT, Quantity, parse_quantity

KIND = "commission site"
FORMAT = 1
ROOT = "output"  # the name of every path's first box: the output terminals of the controller

# Bounds that whoever writes a site file keeps too.
MAX_NAME = 60  # characters
MAX_AT_ONCE = 50  # stations
MAX_STATION_NUMBER, MAX_ADDRESS = 9_999, 99_999
MAX_SOLENOIDS = 16  # of one decoder
MAX_LENGTH_M = 20_000.0  # of one segment
CONDUCTOR_SIZE = re.compile(r"([0-9]{1,2}|[1-4]/0) AWG|[0-9]{1,3}(\.[0-9]{1,2})? mm[²2]")
_ID = r"[A-Za-z0-9._\-]{1,16}"


def is_id(text: str) -> bool:
    """Whether a text can be an id."""
    return re.fullmatch(_ID, text) is not None


def _check_id(text: str) -> str:
    if not is_id(text):
        raise ValueError("an id has 1 to 16 of A-Z a-z 0-9 . _ -")
    return text


Id = Annotated[str, checked_text(_check_id, pattern=f"^{_ID}$")]
Name = Annotated[str, checked_text(low=1, high=MAX_NAME)]


def measured(quantity: Quantity, example: str, low: float, high: float) -> Checked:
    """A quantity: text with a unit in the file, an SI number here, within bounds."""

    def parse(text: object) -> float:
        if not isinstance(text, str):
            raise ValueError(f'write it as text with its unit, for example "{example}"')
        value = parse_quantity(text, quantity)
        if not low <= value <= high:
            unit = SI_UNIT[quantity]
            raise ValueError(f"'{text}' is outside what is possible ({low:g} to {high:g} {unit})")
        return value

    words = f"{quantity}, for example {example}"
    return Checked(parse, {"type": "string", "description": words})


Length = Annotated[float, measured("length", "180 ft", 0.0, MAX_LENGTH_M)]
Small = Annotated[float, measured("length", "16 mm", 1e-4, 1_000.0)]
Resistance = Annotated[float, measured("resistance", "10 ohm", 0.0, 1e9)]
Reactance = Annotated[float, measured("resistance", "0.2 ohm", -1e6, 1e6)]
PerLength = Annotated[float, measured("resistance per length", "2.58 ohm/1000 ft", 1e-6, 10.0)]
Resistivity = Annotated[float, measured("resistivity", "80 ohm m", 0.1, 1e6)]
Voltage = Annotated[float, measured("voltage", "24 V", 0.0, 1000.0)]
SomeVoltage = Annotated[float, measured("voltage", "24 V", 0.1, 1000.0)]
Current = Annotated[float, measured("current", "0.37 A", 0.0, 100.0)]
SomeCurrent = Annotated[float, measured("current", "0.37 A", 1e-3, 100.0)]
Power = Annotated[float, measured("power", "40 VA", 0.1, 10_000.0)]
Frequency = Annotated[float, measured("frequency", "60 Hz", 10.0, 400.0)]
Temperature = Annotated[float, measured("temperature", "15 °C", -40.0, 70.0)]
Difference = Annotated[float, measured("temperature difference", "8 K", 0.0, 60.0)]
Fraction = Annotated[float, measured("fraction", "10 %", 0.0, 1.0)]
Time = Annotated[float, measured("time", "30 s", 0.0, 3600.0)]


def _check_size(text: str) -> str:
    if not CONDUCTOR_SIZE.fullmatch(text):
        raise ValueError('a conductor size is written like "14 AWG" or "2.5 mm²"')
    return text.replace("mm2", "mm²")


Size = Annotated[
    str, checked_text(_check_size, description='conductor size: "14 AWG" or "2.5 mm²"')
]


@shape
class SiteText:
    """Whose site it is, and how numbers are shown."""

    name: Name
    address: Text = ""
    client: Text = ""
    note: Text = ""
    invented: bool = False
    units: Literal["US", "SI"]
    frequency_hz: Frequency


@shape
class Soil:
    """Soil temperature where the cable lies (judgement where not measured)."""

    test_day_c: Temperature = 15.0
    test_day_uncertainty_k: Difference = 8.0
    segment_uncertainty_k: Difference = 2.0
    warmest_c: Temperature = 27.0


@shape
class Controller:
    """The controller and what its maker asks for."""

    description: Text
    serial: Text = ""
    location: Text = ""
    path_electrodes: bool = False  # the equipment asks for electrodes along the path
    surge_arresters: bool = False  # arresters are fitted on the paths
    address_check: bool = True  # indicators light when an address is accepted


@shape
class Supply:
    """Mains supply of the controller."""

    nominal_voltage_v: SomeVoltage
    lowest_fraction_below: Fraction = 0.10
    description: Text = ""

    @property
    def lowest_voltage_v(self) -> float:
        """The mains at which all must still work, in V."""
        return self.nominal_voltage_v * (1 - self.lowest_fraction_below)


@shape
class Output:
    """One pair of output terminals: a source E behind Zs, its rating and its protection.

    Give either `regulation` with `rating`, or `open_circuit_voltage` with `source_resistance`.
    """

    id: Id
    label: Text = ""
    rated_voltage_v: SomeVoltage = 24.0
    rating_va: Power | None = None
    rated_current_a: SomeCurrent | None = None
    regulation: Fraction | None = None
    open_circuit_voltage_v: SomeVoltage | None = None
    source_resistance_ohm: Resistance | None = None
    source_reactance_ohm: Reactance = 0.0
    source_uncertainty: Fraction = 0.20
    fuse_a: SomeCurrent | None = None
    current_limit_a: SomeCurrent | None = None
    earthing: Literal["floating", "earthed", "impedance"] = "floating"
    earthing_impedance_ohm: Resistance | None = None
    stations_at_once: Annotated[int, whole(1, MAX_AT_ONCE)] = 1


@shape
class Electrode:
    """One earth electrode, or several equal rods at one spacing."""

    kind: Literal["rod", "strip", "plate"]
    length_m: Small | None = None  # rod, strip
    diameter_m: Small | None = None  # rod; strip: of the round conductor
    width_m: Small | None = None  # plate side; strip width
    thickness_m: Small = 0.003  # strip
    depth_m: Small | None = None  # strip, plate: of its middle
    count: Annotated[int, whole(1, 24)] = 1
    spacing_m: Small | None = None


@shape
class SoilTest:
    """A four-pin test of the soil: equal spacing of the pins, depth they were driven to."""

    spacing_m: Small
    resistance_ohm: Resistance
    probe_depth_m: Small


@shape
class Earth:
    """Earthing at the controller. The limit is a default; local code decides."""

    limit_ohm: Resistance = 10.0
    soil_resistivity_ohm_m: Resistivity | None = None
    soil_resistivity_uncertainty: Fraction = 0.30
    conductor: Size | None = None
    conductor_length_m: Length | None = None
    conductor_limit_ohm: Resistance = 1.0
    soil_test: tuple[SoilTest, ...] = ()
    electrode: tuple[Electrode, ...] = ()


@shape
class Limits:
    """Limits that a reading is judged against (defaults; local code decides)."""

    min_insulation_ohm: Resistance = 0.5e6
    min_leak_ohm: Resistance = 0.5e6
    min_unbridged_ohm: Resistance = 1e3
    max_dead_voltage_v: Voltage = 0.5
    max_closing_time_s: Time = 60.0


@shape
class SolenoidKind:
    """A solenoid from its data sheet, at its rated voltage and frequency."""

    rated_voltage_v: SomeVoltage = 24.0
    rated_frequency_hz: Frequency = 60.0
    inrush_current_a: SomeCurrent
    holding_current_a: SomeCurrent
    coil_resistance_ohm: Resistance | None = None
    min_voltage_v: SomeVoltage = 20.0
    note: Text = ""


@shape
class DecoderKind:
    """A decoder from its data sheet."""

    solenoids: Annotated[int, whole(1, MAX_SOLENOIDS)] = 1
    standby_current_a: Current
    standby_model: Literal["current", "resistance", "power"] = "current"
    standby_uncertainty: Fraction = 0.20
    output_resistance_ohm: Resistance = 0.0
    output_drop_v: Voltage = 0.0
    dc_resistance_ohm: Resistance | None = None
    indicator_running: Text = "flashing about once a second"
    indicator_idle: Text = "dark"
    note: Text = ""


@shape
class CableKind:
    """A conductor of a cable: a size, or a data-sheet resistance that overrides it."""

    conductor: Size
    stranded: bool = False
    resistance_ohm_per_m: PerLength | None = None
    resistance_tolerance: Fraction = 0.02
    reactance_ohm_per_m: PerLength | None = None
    description: Text = ""
    marking: Text = ""


@shape
class Box:
    """A valve box; the boxes of a path are named by its segments, this adds what is known."""

    id: Id
    label: Text = ""
    location: Text = ""


def _pair(value: object) -> tuple[str, str]:
    """One cable kind means both conductors; two names are given for an unequal pair."""
    names = [value, value] if isinstance(value, str) else value
    if not isinstance(names, list) or len(names) != 2:
        raise ValueError("name one cable kind, or a list of two, one for each conductor")
    if not all(isinstance(name, str) for name in names):
        raise ValueError("cable kinds are named by text in quotes")
    return names[0], names[1]


_NAME: dict[str, Any] = {"type": "string"}
_TWO_NAMES = {"type": "array", "items": _NAME, "minItems": 2, "maxItems": 2}
Pair = Annotated[tuple[str, str], Checked(_pair, {"anyOf": [_NAME, _TWO_NAMES]})]
LengthBy = Literal["tape", "wheel", "drawing", "estimate", "loop"]


@shape
class Segment:
    """Cable between two boxes; `cable` names one kind, or one for each conductor."""

    from_box: Id
    to_box: Id
    length_m: Length
    length_by: LengthBy | None = None
    cable: Pair | None = None


@shape
class OldConductor:
    """A conductor of an old bundle, by its colour or number, and the boxes where it is found."""

    id: Id
    label: Text = ""
    cable: str | None = None  # the path's first kind when absent
    passes: tuple[Id, ...] = ()  # every box and the terminals when absent


@shape
class Path:
    """A tree of segments from the output terminals; its own defaults for cable and lengths."""

    id: Id
    label: Text = ""
    output: Id
    stations_at_once: Annotated[int, whole(1, MAX_AT_ONCE)] | None = None
    new_cable: bool = True
    cable: Pair
    length_by: LengthBy = "drawing"
    box: tuple[Box, ...] = ()
    conductor: tuple[OldConductor, ...] = ()
    segment: Annotated[tuple[Segment, ...], AtLeast(1)]


def _two(value: object) -> tuple[str, str]:
    if not isinstance(value, list) or len(value) != 2 or len(set(map(str, value))) != 2:
        raise ValueError("name two different conductors")
    return _pair(value)


@shape
class ChosenPair:
    """Two conductors of an old bundle that carry the segment to a box, and what was read of them.

    Its cable and `length_by` count instead of the segment's own.
    """

    path: Id
    box: Id
    conductors: Annotated[tuple[str, str], Checked(_two, _TWO_NAMES)]
    cable: Pair
    length_by: LengthBy = "loop"


@shape
class Solenoid:
    """One coil of a station."""

    id: Id
    kind: str
    label: Text = ""


@shape
class Station:
    """What answers at one address: a decoder in a box and the solenoids that it switches."""

    id: Id
    number: Annotated[int, whole(1, MAX_STATION_NUMBER)]
    address: Annotated[int, whole(0, MAX_ADDRESS)]
    path: Id
    box: Id
    decoder: str
    decoder_serial: Text = ""
    solenoid: Annotated[tuple[Solenoid, ...], AtLeast(1)]
    waters: Text = ""
    label: Text = ""
    runs_with_every_station: bool = False


@shape
class Site:
    """The whole site file."""

    kind: Literal["commission site"]
    format: Literal[1]
    site: SiteText
    soil: Soil = field(default_factory=Soil)
    controller: Controller
    supply: Supply
    output: Annotated[tuple[Output, ...], AtLeast(1)]
    earth: Earth
    limits: Limits = field(default_factory=Limits)
    solenoid_kind: dict[str, SolenoidKind]
    decoder_kind: dict[str, DecoderKind]
    cable_kind: dict[str, CableKind]
    path: Annotated[tuple[Path, ...], AtLeast(1)]
    pair: tuple[ChosenPair, ...] = ()
    station: Annotated[tuple[Station, ...], AtLeast(1)]
