"""Every law against values printed elsewhere; the source stands beside each value."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable

import pytest

from commission.electrical import conductors, earth, fault_distance, instruments
from commission.electrical.conformance import Limits, over_range_conformance
from commission.electrical.conformance import conformance as conforms
from commission.electrical.distributions import error_sum, normal_cdf, rectangular_u
from commission.electrical.network import network, solve
from commission.electrical.segments import chart_length_m, loop_r_ohm
from commission.electrical.solenoids import impedance_ohm
from commission.electrical.update import Belief, chi_square_quantile

from .published import Row, read_rows

FOOT_M = 0.3048
ROWS = read_rows()
UNIT = {
    "mm": 1e3,
    "mm2": 1e6,
    "ohm/km": 1e3,
    "ohm/kft": 1e3 * FOOT_M,
    "ohm mm2/m": 1e6,
    "ohm cm": 1e2,
    "%": 1e2,
    "km": 1e-3,
    "ft": 1 / FOOT_M,
}
"""What an SI value is multiplied with to stand in the table's unit."""


def awg_resistance(awg: int, stranded: bool, temperature_c: float) -> float:
    wire = conductors.awg(awg, stranded=stranded)
    return conductors.at_temperature(wire.r20_ohm_per_m, temperature_c)


def highest_over_nominal_solid(awg: int, stranded: bool) -> float:
    wire = conductors.awg(awg, stranded=stranded)
    return wire.high_r20_ohm_per_m / conductors.awg(awg, stranded=False).r20_ohm_per_m


def awg_reactance(awg: int, frequency_hz: float) -> float:
    return conductors.awg(awg, stranded=False).x_ohm_per_m(frequency_hz)


def name_below_limit(mm2: float) -> float:
    limit = conductors.metric(mm2).sizing_r20_ohm_per_m
    return 1 - conductors.wire_r_ohm_per_m(mm2 * 1e-6) / limit


def coefficient_at(temperature_c: float) -> float:
    here, warmer = (conductors.at_temperature(1.0, t) for t in (temperature_c, temperature_c + 1))
    return warmer / here - 1


def ladder(node: int | None = None) -> float:
    net = network(
        24.0, [-1, 0, 1, 2], [0, 2.525, 2.525, 2.525], standby_s=[0, 1 / 60, 1 / 60, 1 / 60]
    )
    solution = solve(net)
    return abs(solution.source_a if node is None else solution.node_v[node])


def distributor_voltage(node: int) -> float:
    z = [0.0] + [0.02 * metres / 1000 for metres in (500, 400, 600, 400)]
    net = network(300.0, [-1, 0, 1, 2, 3], z, standby_a=[0, 100, 150, 200, 50])
    return abs(solve(net).node_v[node])


def ac_distributor_drop() -> float:
    lagging = [0j, 100 * complex(0.707, -0.707), 200 * complex(0.8, -0.6)]
    z = [0j, complex(0.2, 0.1) * 0.2, complex(0.2, 0.1) * 0.1]
    solution = solve(network(1000.0, [-1, 0, 1], z, standby_a=lagging))
    return abs(1000.0 - solution.node_v[2])


def k_factor_drop(awg: int, k: float, current_a: float, length_ft: float) -> float:
    circular_mil_m2 = math.pi / 4 * (25.4e-6) ** 2
    ohm_per_m = conductors.wire_r_ohm_per_m(
        conductors.awg_area_m2(awg), k * circular_mil_m2 / FOOT_M
    )
    return current_a * loop_r_ohm(length_ft * FOOT_M, ohm_per_m, ohm_per_m, 0.0)


def two_rods_factor() -> float:
    return earth.two_rods_ohm(200.0, 3.0, 0.01, 3.0) / earth.rod_ohm(200.0, 3.0, 0.01) * 2


def point_electrode_place() -> float:
    # readings that a point electrode in uniform soil gives at 20, 40 and 60 %
    field = [1 / (1 - p) - 1 / p - 1 for p in (0.2, 0.4, 0.6)]
    return earth.slope_method(*(10 + x for x in field)).probe_fraction


def slope_place(slope: float) -> float:
    return earth.slope_method(1.0, 2.0, 2.0 + slope).probe_fraction


def fall_deviation(readings: list[float]) -> float:
    return earth.fall_of_potential(readings).max_deviation_fraction


def conformance(estimate: float, u: float, **limits: float) -> float:
    return conforms(estimate, error_sum(normal_std=u), Limits(**limits))


def false_acceptance(factor: float) -> float:
    """A result on the acceptance limit: a guard band of so many u below the limit."""
    return 1 - conformance(10.0 - factor * 0.5, 0.5, high=10.0)


def insulation_single(reading: float, half_width: float, limit: float) -> float:
    return conforms(reading, error_sum([half_width]), Limits(low=limit))


def half_width(percent: float, counts: float, resolution: float, reading: float) -> float:
    return instruments.half_width(instruments.Accuracy(percent, counts, resolution), reading)


def impedance_example(of: str) -> float:
    """JCGM 100 H.2: raw readings of table H.2 (memory), first-order propagation of their means."""
    volts = [5.007, 4.994, 5.005, 4.990, 4.999]
    amperes = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
    radians = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
    data = (volts, amperes, radians)
    v, i, p = (sum(x) / 5 for x in data)
    covariance = tuple(
        tuple(
            sum((a - sum(x) / 5) * (b - sum(y) / 5) for a, b in zip(x, y, strict=True)) / 20
            for y in data
        )
        for x in data
    )
    z = impedance_ohm(v, i)
    slopes = {
        "R": (math.cos(p) / i, -z / i * math.cos(p), -z * math.sin(p)),
        "X": (math.sin(p) / i, -z / i * math.sin(p), z * math.cos(p)),
        "Z": (1 / i, -z / i, 0.0),
    }
    belief = Belief((v, i, p), covariance)
    variance = {name: belief.predict(h)[1] for name, h in slopes.items()}
    both = tuple(a + b for a, b in zip(slopes["R"], slopes["X"], strict=True))
    shared = (belief.predict(both)[1] - variance["R"] - variance["X"]) / 2
    found = {"R": z * math.cos(p), "X": z * math.sin(p), "Z": z}
    found |= {f"u({name})": math.sqrt(value) for name, value in variance.items()}
    found["r(R,X)"] = shared / math.sqrt(variance["R"] * variance["X"])
    return found[of]


def murray(sound: float, faulty: float, length_m: float) -> float:
    """Both conductors of one cable: an ohm a metre, so that ohms are metres."""
    return fault_distance.murray_ohm(2 * length_m, sound, faulty)


def murray_unequal(
    ratio: float, sound_ohm_per_km: float, faulty_ohm_per_km: float, length_m: float
) -> float:
    loop = (sound_ohm_per_km + faulty_ohm_per_km) * length_m / 1000
    return fault_distance.murray_ohm(loop, ratio, 1.0) / (faulty_ohm_per_km / 1000)


def varley(added_ohm: float, ohm_per_km: float, length_km: float) -> float:
    ohm = fault_distance.varley_ohm(2 * ohm_per_km * length_km, 1.0, 1.0, added_ohm)
    return ohm / (ohm_per_km / 1000)


def short_distance(loop_ohm: float, awg: int) -> float:
    wire = conductors.awg(awg, stranded=False).r20_ohm_per_m
    return loop_ohm / (2 * wire)


def chart_feet(awg: int, solenoids: int) -> float:
    """The drop is the one that puts a single solenoid on 14 AWG at 2,292 ft."""
    known = conductors.awg(14, stranded=False).r20_ohm_per_m
    drop_v = 2292 * FOOT_M * 0.3 * 2 * known
    wire = conductors.awg(awg, stranded=False).r20_ohm_per_m
    return chart_length_m(24.0, 24.0 - drop_v, solenoids, 0.3, wire)


def same_loop_metres(mm2: float, at_limit: bool) -> float:
    wire = conductors.awg(14, stranded=False).r20_ohm_per_m
    loop = loop_r_ohm(2292 * FOOT_M, wire, wire, 0.0)
    other = (
        conductors.metric(mm2).sizing_r20_ohm_per_m
        if at_limit
        else conductors.wire_r_ohm_per_m(mm2 * 1e-6)
    )
    return loop / (2 * other)


def insulation_over_range(beyond: float, limit: float) -> float:
    probability = over_range_conformance(beyond, Limits(low=limit))
    assert probability is not None
    return probability


LAWS: dict[str, Callable[..., float]] = {
    "wire_diameter": lambda awg: conductors.awg_diameter_m(awg),
    "wire_area": lambda awg: conductors.awg_area_m2(awg),
    "awg_resistance": awg_resistance,
    "highest_over_nominal_solid": highest_over_nominal_solid,
    "awg_reactance": awg_reactance,
    "metric_limit": lambda mm2: conductors.metric(mm2).sizing_r20_ohm_per_m,
    "name_below_limit": name_below_limit,
    "to_20_c": lambda temperature_c: conductors.to_20_c(1.0, temperature_c),
    "coefficient_at": coefficient_at,
    "resistivity": lambda: conductors.COPPER_OHM_M,
    "ladder_voltage": ladder,
    "ladder_current": ladder,
    "distributor_voltage": distributor_voltage,
    "ac_distributor_drop": ac_distributor_drop,
    "k_factor_drop": k_factor_drop,
    "rod": lambda soil, length_m, radius_m: earth.rod_ohm(soil, length_m, radius_m),
    "wenner": lambda spacing_m, resistance_ohm: earth.soil_ohm_m(spacing_m, resistance_ohm),
    "rod_factor": lambda rods: earth.rod_factor(rods),
    "two_rods": lambda soil, length_m, radius_m, spacing_m: earth.two_rods_ohm(
        soil, length_m, radius_m, spacing_m
    ),
    "two_rods_factor": two_rods_factor,
    "point_electrode_place": point_electrode_place,
    "fall_mean": lambda readings: earth.fall_of_potential(readings).resistance_ohm,
    "fall_deviation": fall_deviation,
    "slope_place": slope_place,
    "insulation_over_range": insulation_over_range,
    "insulation_single": insulation_single,
    "normal_coverage": lambda k: normal_cdf(k) - normal_cdf(-k),
    "rectangular_u": rectangular_u,
    "half_width": half_width,
    "conformance": conformance,
    "false_acceptance": false_acceptance,
    "impedance_example": impedance_example,
    "chi_square": lambda degrees: chi_square_quantile(degrees),
    "murray": murray,
    "murray_unequal": murray_unequal,
    "varley": varley,
    "short_distance": short_distance,
    "chart_feet": chart_feet,
    "feet_in_metres": lambda feet: feet * FOOT_M,
    "same_loop_metres": same_loop_metres,
}


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_law_gives_the_published_value(row: Row) -> None:
    found = LAWS[row.law](**row.given) * UNIT.get(row.unit, 1.0)
    difference = abs(found - row.value)
    # half a unit in the last digit, met exactly, may differ in the last bit
    assert difference <= row.tolerance * (1 + 1e-9), f"{found} {row.unit}, {row.source}: {row}"


def test_tables_are_there_and_say_where_they_come_from() -> None:
    tables = Counter(row.table for row in ROWS)
    assert len(ROWS) >= 120
    assert set(tables) == {
        "conductors",
        "temperature",
        "networks",
        "earth",
        "insulation",
        "uncertainty",
        "fault_location",
        "trade",
    }
    for row in ROWS:
        assert row.how in {"seen", "memory", "computed"}, row
        assert row.tolerance > 0, row
        assert all((row.unit, row.conditions, row.source)), row
    assert {row.source for row in ROWS if row.table == "trade"} == {"common practice, no source"}


def test_every_law_has_a_row() -> None:
    assert set(LAWS) == {row.law for row in ROWS}
