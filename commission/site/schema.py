"""The site file, format 1: one controller with its outputs, paths, boxes and stations.

Every quantity is written with its unit ("180 ft") and held here as an SI number whose name ends in
the unit. The key in the file is the name without that ending, so `length = "180 ft"` becomes
`length_m`. Ids are permanent and short; labels are free text and may be renamed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema
from pydantic_core import CoreSchema
from pydantic_core.core_schema import no_info_plain_validator_function

from commission.files import Table, Text
from commission.text import clean
from commission.units import SI_UNIT, Quantity, parse_quantity

KIND = "commission site"
FORMAT = 1
ROOT = "output"  # the name of every path's first box: the output terminals of the controller

_ID = re.compile(r"[A-Za-z0-9._-]{1,16}")


def _check_id(text: str) -> str:
    if not _ID.fullmatch(text):
        raise ValueError("an id has 1 to 16 of A-Z a-z 0-9 . _ -")
    return text


Id = Annotated[
    str,
    AfterValidator(_check_id),
    WithJsonSchema({"type": "string", "pattern": r"^[A-Za-z0-9._\-]{1,16}$"}),
]
Name = Annotated[str, AfterValidator(clean), Field(min_length=1, max_length=60)]


@dataclass(frozen=True, slots=True)
class Measured:
    """Annotation of a quantity: text with a unit in the file, an SI number here, within bounds."""

    quantity: Quantity
    example: str
    low: float
    high: float

    def parse(self, text: object) -> float:
        """Return the SI value; raises ValueError in words for people."""
        if not isinstance(text, str):
            raise ValueError(f'write it as text with its unit, for example "{self.example}"')
        value = parse_quantity(text, self.quantity)
        if not self.low <= value <= self.high:
            unit = SI_UNIT[self.quantity]
            raise ValueError(
                f"'{text}' is outside what is possible ({self.low:g} to {self.high:g} {unit})"
            )
        return value

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {
            "type": "string",
            "description": f"{self.quantity}, for example {self.example}",
        }


Length = Annotated[float, Measured("length", "180 ft", 0.0, 20_000.0)]
Small = Annotated[float, Measured("length", "16 mm", 1e-4, 1_000.0)]
Resistance = Annotated[float, Measured("resistance", "10 ohm", 0.0, 1e9)]
Reactance = Annotated[float, Measured("resistance", "0.2 ohm", -1e6, 1e6)]
PerLength = Annotated[float, Measured("resistance per length", "2.58 ohm/1000 ft", 1e-6, 10.0)]
Resistivity = Annotated[float, Measured("resistivity", "80 ohm m", 0.1, 1e6)]
Voltage = Annotated[float, Measured("voltage", "24 V", 0.0, 1000.0)]
Current = Annotated[float, Measured("current", "0.37 A", 0.0, 100.0)]
Power = Annotated[float, Measured("power", "40 VA", 0.1, 10_000.0)]
Frequency = Annotated[float, Measured("frequency", "60 Hz", 10.0, 400.0)]
Temperature = Annotated[float, Measured("temperature", "15 °C", -40.0, 70.0)]
Difference = Annotated[float, Measured("temperature difference", "8 K", 0.0, 60.0)]
Fraction = Annotated[float, Measured("fraction", "10 %", 0.0, 1.0)]
Time = Annotated[float, Measured("time", "30 s", 0.0, 3600.0)]


def _check_size(text: str) -> str:
    if not re.fullmatch(r"(\d{1,2}|[1-4]/0) AWG|\d{1,2}(\.\d{1,2})? mm(²|2)", text):
        raise ValueError('a conductor size is written like "14 AWG" or "2.5 mm²"')
    return text.replace("mm2", "mm²")


Size = Annotated[
    str,
    AfterValidator(_check_size),
    WithJsonSchema({"type": "string", "description": 'conductor size: "14 AWG" or "2.5 mm²"'}),
]


class SiteText(Table):
    """Whose site it is, and how numbers are shown."""

    name: Name
    address: Text = ""
    client: Text = ""
    note: Text = ""
    invented: bool = False
    units: Literal["US", "SI"]
    frequency_hz: Frequency = Field(alias="frequency")


class Soil(Table):
    """Soil temperature where the cable lies (judgement where not measured)."""

    test_day_c: Temperature = Field(15.0, alias="test_day")
    test_day_uncertainty_k: Difference = Field(8.0, alias="test_day_uncertainty")
    segment_uncertainty_k: Difference = Field(2.0, alias="segment_uncertainty")
    warmest_c: Temperature = Field(27.0, alias="warmest")


class Controller(Table):
    """The controller and what its maker asks for."""

    description: Text
    serial: Text = ""
    location: Text = ""
    path_electrodes: bool = False  # the equipment asks for electrodes along the path
    surge_arresters: bool = False  # arresters are fitted on the paths
    address_check: bool = True  # indicators light when an address is accepted


class Supply(Table):
    """Mains supply of the controller."""

    nominal_voltage_v: Voltage = Field(alias="nominal_voltage")
    lowest_fraction_below: Fraction = Field(0.10, alias="lowest_below")
    description: Text = ""


class Output(Table):
    """One pair of output terminals: a source E behind Zs, its rating and its protection.

    Give either `regulation` with `rating`, or `open_circuit_voltage` with `source_resistance`.
    """

    id: Id
    label: Text = ""
    rated_voltage_v: Voltage = Field(24.0, alias="rated_voltage")
    rating_va: Power | None = Field(None, alias="rating")
    rated_current_a: Current | None = Field(None, alias="rated_current")
    regulation: Fraction | None = None
    open_circuit_voltage_v: Voltage | None = Field(None, alias="open_circuit_voltage")
    source_resistance_ohm: Resistance | None = Field(None, alias="source_resistance")
    source_reactance_ohm: Reactance = Field(0.0, alias="source_reactance")
    source_uncertainty: Fraction = 0.20
    fuse_a: Current | None = Field(None, alias="fuse")
    current_limit_a: Current | None = Field(None, alias="current_limit")
    earthing: Literal["floating", "earthed", "impedance"] = "floating"
    earthing_impedance_ohm: Resistance | None = Field(None, alias="earthing_impedance")
    stations_at_once: int = Field(1, ge=1, le=50)


class Electrode(Table):
    """One earth electrode, or several equal rods at one spacing."""

    kind: Literal["rod", "strip", "plate"]
    length_m: Small | None = Field(None, alias="length")  # rod, strip
    diameter_m: Small | None = Field(None, alias="diameter")  # rod; strip: of the round conductor
    width_m: Small | None = Field(None, alias="width")  # plate side; strip width
    depth_m: Small | None = Field(None, alias="depth")
    count: int = Field(1, ge=1, le=24)
    spacing_m: Small | None = Field(None, alias="spacing")


class Earth(Table):
    """Earthing at the controller. The limit is a default; local code decides."""

    limit_ohm: Resistance = Field(10.0, alias="limit")
    soil_resistivity_ohm_m: Resistivity | None = Field(None, alias="soil_resistivity")
    soil_resistivity_uncertainty: Fraction = 0.30
    conductor: Size | None = None
    conductor_length_m: Length | None = Field(None, alias="conductor_length")
    conductor_limit_ohm: Resistance = Field(1.0, alias="conductor_limit")
    electrode: tuple[Electrode, ...] = Field((), strict=False)


class Limits(Table):
    """Limits that a reading is judged against (defaults; local code decides)."""

    min_insulation_ohm: Resistance = Field(0.5e6, alias="min_insulation")
    min_leak_ohm: Resistance = Field(0.5e6, alias="min_leak")
    min_unbridged_ohm: Resistance = Field(1e3, alias="min_unbridged")
    max_dead_voltage_v: Voltage = Field(0.5, alias="max_dead_voltage")
    max_closing_time_s: Time = Field(60.0, alias="max_closing_time")


class SolenoidKind(Table):
    """A solenoid from its data sheet, at its rated voltage and frequency."""

    rated_voltage_v: Voltage = Field(24.0, alias="rated_voltage")
    rated_frequency_hz: Frequency = Field(60.0, alias="rated_frequency")
    inrush_current_a: Current = Field(alias="inrush_current")
    holding_current_a: Current = Field(alias="holding_current")
    coil_resistance_ohm: Resistance | None = Field(None, alias="coil_resistance")
    min_voltage_v: Voltage = Field(20.0, alias="min_voltage")
    note: Text = ""


class DecoderKind(Table):
    """A decoder from its data sheet."""

    solenoids: int = Field(1, ge=1, le=16)
    standby_current_a: Current = Field(alias="standby_current")
    standby_model: Literal["current", "resistance", "power"] = "current"
    standby_uncertainty: Fraction = 0.20
    output_resistance_ohm: Resistance = Field(0.0, alias="output_resistance")
    output_drop_v: Voltage = Field(0.0, alias="output_drop")
    dc_resistance_ohm: Resistance | None = Field(None, alias="dc_resistance")
    indicator_running: Text = "flashing about once a second"
    indicator_idle: Text = "dark"
    note: Text = ""


class CableKind(Table):
    """A conductor of a cable: a size, or a data-sheet resistance that overrides it."""

    conductor: Size
    stranded: bool = False
    resistance_ohm_per_m: PerLength | None = Field(None, alias="resistance")
    resistance_tolerance: Fraction = 0.02
    reactance_ohm_per_m: PerLength | None = Field(None, alias="reactance")
    description: Text = ""
    marking: Text = ""


class Box(Table):
    """A valve box; the boxes of a path are named by its segments, this adds what is known."""

    id: Id
    label: Text = ""
    location: Text = ""


def _pair(value: object) -> object:
    """One cable kind means both conductors; two names are given for an unequal pair."""
    return (value, value) if isinstance(value, str) else value


Pair = Annotated[
    tuple[str, str],
    BeforeValidator(_pair),
    Field(strict=False),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {
                    "type": "array",
                    "items": {"type": "string"},
                    "minItems": 2,
                    "maxItems": 2,
                },
            ]
        }
    ),
]
LengthBy = Literal["tape", "wheel", "drawing", "estimate"]


class Segment(Table):
    """Cable between two boxes; `cable` names one kind, or one for each conductor."""

    from_box: Id = Field(alias="from")
    to_box: Id = Field(alias="to")
    length_m: Length = Field(alias="length")
    length_by: LengthBy | None = None
    cable: Pair | None = None


class Path(Table):
    """A tree of segments from the output terminals; its own defaults for cable and lengths."""

    id: Id
    label: Text = ""
    output: Id
    stations_at_once: int | None = Field(None, ge=1, le=50)
    new_cable: bool = True
    cable: Pair
    length_by: LengthBy = "drawing"
    box: tuple[Box, ...] = Field((), strict=False)
    segment: tuple[Segment, ...] = Field(min_length=1, strict=False)


class Solenoid(Table):
    """One coil of a station."""

    id: Id
    kind: str
    label: Text = ""


class Station(Table):
    """What answers at one address; `solenoid` names its coils, `solenoid_kind` a single one."""

    id: Id
    number: int = Field(ge=1, le=9999)
    address: int = Field(ge=0, le=99_999)
    path: Id
    box: Id
    decoder: str
    decoder_serial: Text = ""
    solenoid: tuple[Solenoid, ...] = Field(min_length=1, max_length=16, strict=False)
    waters: Text = ""
    label: Text = ""
    runs_with_every_station: bool = False


class Site(Table):
    """The whole site file."""

    kind: Literal["commission site"]
    format: Literal[1]
    site: SiteText
    soil: Soil = Soil.model_construct()
    controller: Controller
    supply: Supply
    output: tuple[Output, ...] = Field(min_length=1, strict=False)
    earth: Earth
    limits: Limits = Limits.model_construct()
    solenoid_kind: dict[str, SolenoidKind]
    decoder_kind: dict[str, DecoderKind]
    cable_kind: dict[str, CableKind]
    path: tuple[Path, ...] = Field(min_length=1, strict=False)
    station: tuple[Station, ...] = Field(min_length=1, strict=False)
