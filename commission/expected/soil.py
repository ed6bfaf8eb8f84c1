"""The soil on the test day: what the site file says of it, and how well a measurement knows it."""

from __future__ import annotations

from commission.electrical.distributions import rectangular_u
from commission.electrical.sources import JUDGEMENT, citation
from commission.electrical.uncertainty import COVERAGE_FACTOR, Contribution
from commission.expected.inputs import Drawing
from commission.expected.values import Expectation

# One thermometer at one place, for all the cable of a site (rectangular half-width, judgement).
MEASURED_SOIL_K = 3.0


def soil_expectation(drawing: Drawing) -> Expectation:
    """Soil temperature at cable depth as the site file expects it, in °C."""
    soil = drawing.site.soil
    half_width = soil.test_day_uncertainty_k
    u = rectangular_u(half_width)
    return Expectation(
        name="soil-temperature",
        quantity="temperature",
        sides="interval",
        value=soil.test_day_c,
        low=soil.test_day_c - COVERAGE_FACTOR * u,
        high=soil.test_day_c + COVERAGE_FACTOR * u,
        u=u,
        conditions=f"from now on the reading counts, ±{MEASURED_SOIL_K:g} K for all the cable",
        formula="as the site file says",
        inputs=(),
        source=citation(JUDGEMENT),
        budget=(Contribution(f"soil on the test day, ±{half_width:g} K", half_width),),
        what_below="colder than the site file says; later loops are computed with the reading",
        what_above="warmer than the site file says; later loops are computed with the reading",
    )
