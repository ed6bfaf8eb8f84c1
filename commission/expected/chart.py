"""The sizing chart of the trade: how far each cable reaches, by solenoids active at its end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from commission.electrical.conductors import at_temperature
from commission.electrical.segments import chart_length_m
from commission.electrical.sources import citation
from commission.expected.sizes import conductor_of


@dataclass(frozen=True, slots=True)
class Chart:
    """What a chart is drawn for: V at the source and at least at the solenoid, A of each, °C."""

    source_v: float
    min_v: float
    current_a: float
    soil_c: float
    most_solenoids: int

    def r_ohm_per_m(self, size: str) -> float:
        """Resistance of one conductor of a size in this soil, for sizing [Ω/m]."""
        return at_temperature(conductor_of(size).sizing_r20_ohm_per_m, self.soil_c)

    def distances_m(self, size: str) -> tuple[float, ...]:
        """Farthest distance with 1, 2, 3, ... solenoids active at the end of a cable [m]."""
        per_m = self.r_ohm_per_m(size)
        return tuple(
            chart_length_m(self.source_v, self.min_v, active, self.current_a, per_m)
            for active in range(1, self.most_solenoids + 1)
        )

    def document(self, sizes: tuple[str, ...]) -> dict[str, Any]:
        """The chart as numbers for programs, in SI, without the document's head."""
        return {
            "rule": "(source_v - min_v) / (solenoids * current_a * 2 * r_ohm_per_m)",
            "source": citation("common practice, no source"),
            "source_v": self.source_v,
            "min_v": self.min_v,
            "current_a": self.current_a,
            "soil_c": self.soil_c,
            "cables": [
                {
                    "size": size,
                    "basis": conductor_of(size).basis,
                    "r_ohm_per_m": self.r_ohm_per_m(size),
                    "distances": [
                        {"solenoids": active, "distance_m": distance_m}
                        for active, distance_m in enumerate(self.distances_m(size), start=1)
                    ],
                }
                for size in sizes
            ],
        }
