"""What to enlarge: against brute force over every choice and every set, on sites written anew."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission.expected.inputs import Drawing
from commission.expected.model import working_case
from commission.expected.sheet import Sheet
from commission.expected.sizes import area_m2, conductor_of, larger
from commission.expected.sizing import Sizing, sizing_document, sizings
from commission.resources import samples
from commission.shapes import validate
from commission.site.load import parse_site
from commission.site.schema import CableKind, Site
from commission.site.tree import build_trees

# Cross-section in mm² (ASTM B258, wire tables seen); a metric size counts with its name.
AREA_MM2 = {
    "18 AWG": 0.8230, "16 AWG": 1.3087, "14 AWG": 2.0809, "12 AWG": 3.3088, "10 AWG": 5.2612,
    "8 AWG": 8.3656, "6 AWG": 13.3018, "2.5 mm²": 2.5, "4 mm²": 4.0, "6 mm²": 6.0, "10 mm²": 10.0,
    "16 mm²": 16.0,
}  # fmt: skip
GAUGES = [size for size in AREA_MM2 if size.endswith("AWG")]
METRIC = [size for size in AREA_MM2 if size.endswith("mm²")]
COPPER_KG_PER_M3 = 8890  # IEC 60028, from memory
QUIET = settings(
    deadline=None, max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip

Tables = dict[str, Any]


def site_tables(
    segments: list[tuple[str, str, float, str]], stations: list[str], **output: Any
) -> Tables:
    """A site as its file has it: segments (from, to, metres, size), stations by their box."""
    return {
        "kind": "commission site",
        "format": 1,
        "site": {
            "name": "Invented",
            "invented": True,
            "units": "SI",
            "frequency": "60 Hz",
        },
        "controller": {"description": "invented"},
        "supply": {"nominal_voltage": "120 V"},
        "output": [{"id": "1", "rating": "60 VA", "regulation": "10 %", **output}],
        "earth": {},
        "solenoid_kind": {
            "small": {"inrush_current": "0.37 A", "holding_current": "0.19 A"},
            "large": {"inrush_current": "0.6 A", "holding_current": "0.3 A"},
        },
        "decoder_kind": {"one": {"standby_current": "2 mA"}},
        "cable_kind": {size: {"conductor": size} for size in AREA_MM2},
        "path": [
            {
                "id": "A",
                "output": "1",
                "cable": "14 AWG",
                "segment": [
                    {"from": a, "to": b, "length": f"{metres!r} m", "cable": size}
                    for a, b, metres, size in segments
                ],
            }
        ],
        "station": [
            {
                "id": f"S{n}",
                "number": n,
                "address": 100 + n,
                "path": "A",
                "box": box,
                "decoder": "one",
                "solenoid": [{"id": f"V{n}", "kind": "large" if n % 3 == 0 else "small"}],
            }
            for n, box in enumerate(stations, start=1)
        ],
    }


def site_of(tables: Tables) -> Site:
    return validate(Site, tables)


def drawing_of(site: Site) -> Drawing:
    return Drawing(site, build_trees(site))


def only(site: Site) -> Sizing:
    (found,) = sizings(drawing_of(site))
    return found


def lowest_ratio(site: Site) -> float:
    """By brute force: every permitted set solved whole, at lowest mains in the warmest soil."""
    model = working_case(drawing_of(site), "1")
    kinds = site.solenoid_kind
    least = {
        (s.id, one.id): kinds[one.kind].min_voltage_v for s in site.station for one in s.solenoid
    }
    return min(
        volts / least[coil]
        for size in range(1, site.output[0].stations_at_once + 1)
        for chosen in combinations(site.station, size)
        for coil, volts in model.coil_voltages_v(chosen, "inrush").items()
    )


def with_steps(tables: Tables, found: Sizing) -> Site:
    """The site file written anew, its segments as the steps say."""
    to_size = {step.box: step.to_size for step in found.steps}
    (path,) = tables["path"]
    segments = [{**one, "cable": to_size.get(one["to"], one["cable"])} for one in path["segment"]]
    return site_of({**tables, "path": [{**path, "segment": segments}]})


def copper_kg(segment: Tables, size: str) -> float:
    metres = float(segment["length"].removesuffix(" m"))
    added_mm2 = AREA_MM2[size] - AREA_MM2[segment["cable"]]
    return 2 * metres * added_mm2 * 1e-6 * COPPER_KG_PER_M3


@st.composite
def small_trees(draw: st.DrawFn) -> Tables:
    """Up to three segments of one family in any shape, stations anywhere, up to two at once."""
    family = draw(st.sampled_from([GAUGES[2:], METRIC]))
    boxes = draw(st.integers(1, 3))
    segments = []
    for i in range(1, boxes + 1):
        above = draw(st.integers(0, i - 1))
        segments.append(
            (
                "output" if above == 0 else f"B{above}",
                f"B{i}",
                float(draw(st.integers(150, 900))),
                draw(st.sampled_from(family[:3])),
            )
        )
    feet = [f"B{draw(st.integers(1, boxes))}" for _ in range(draw(st.integers(1, 4)))]
    tables = site_tables(segments, feet, stations_at_once=draw(st.integers(1, 2)))
    tables["solenoid_kind"]["small"]["min_voltage"] = draw(st.sampled_from(["21.5 V", "22.3 V"]))
    if draw(st.booleans()):
        tables["decoder_kind"]["one"]["standby_model"] = "resistance"
    return tables


@QUIET
@given(tables=small_trees())
def test_no_cheaper_choice_passes(tables: Tables) -> None:
    site = site_of(tables)
    found = only(site)
    assert found.ratio_before == pytest.approx(lowest_ratio(site), rel=1e-9)
    assert found.passes == (lowest_ratio(site) >= 1)
    if found.passes:
        assert found.steps == ()
        return
    assert found.search == "exact"
    (path,) = tables["path"]
    feeding = {
        segment.to_box
        for station in site.station
        for segment in build_trees(site)["A"].route(station.box)
    }
    options = []
    for segment in path["segment"]:
        family = GAUGES if segment["cable"].endswith("AWG") else METRIC
        at_least = family[family.index(segment["cable"]) :]
        options.append(at_least if segment["to"] in feeding else at_least[:1])
    cheapest = float("inf")
    for sizes in product(*options):
        pairs = list(zip(path["segment"], sizes, strict=True))
        copper = sum(copper_kg(segment, size) for segment, size in pairs)
        if copper < cheapest:
            other = rewritten(site, {("A", segment["to"]): size for segment, size in pairs})
            cheapest = copper if lowest_ratio(other) >= 1 else cheapest
    if cheapest == float("inf"):
        assert found.steps == ()
        assert found.reason
        assert found.ratio_after is None
        return
    assert found.added_copper_kg == pytest.approx(cheapest, rel=1e-3)
    after = lowest_ratio(with_steps(tables, found))
    assert after >= 1
    assert found.ratio_after == pytest.approx(after, rel=1e-9)


@QUIET
@given(tables=small_trees())
def test_fewer_at_once_as_drawn(tables: Tables) -> None:
    found = only(site_of(tables))
    passing = 0
    for at_once in range(1, found.stations_at_once + 1):
        output = {**tables["output"][0], "stations_at_once": at_once}
        if lowest_ratio(site_of({**tables, "output": [output]})) >= 1:
            passing = at_once
    assert found.stations_at_once_as_drawn == passing


# Larger sites, step by step


def needing(name: str, min_v: float) -> Site:
    """A sample whose solenoids need more than the drawn cable leaves them."""
    site = parse_site(samples()[name].read_bytes(), name)
    kinds = {key: replace(kind, min_voltage_v=min_v) for key, kind in site.solenoid_kind.items()}
    return replace(site, solenoid_kind=kinds)


def rewritten(site: Site, sizes: dict[tuple[str, str], str]) -> Site:
    """A site with other cable in some segments, named by path and box."""
    kinds = {**site.cable_kind, **{size: CableKind(conductor=size) for size in sizes.values()}}
    paths = tuple(
        replace(
            path,
            segment=tuple(
                replace(one, cable=(sizes[path.id, one.to_box],) * 2)
                if (path.id, one.to_box) in sizes
                else one
                for one in path.segment
            ),
        )
        for path in site.path
    )
    return replace(site, cable_kind=kinds, path=paths)


def worst_ratio(site: Site) -> float:
    worst = working_case(drawing_of(site), site.output[0].id).worst_set()
    assert worst is not None
    return worst.ratio


@pytest.mark.parametrize(
    ("name", "min_v"), [("sixty-boxes", 22.8), ("sixty-boxes", 23.3), ("two-paths", 23.3)]
)
def test_every_step_is_needed_and_all_together_are_enough(name: str, min_v: float) -> None:
    site = needing(name, min_v)
    found = only(site)
    assert found.search == "step by step"
    assert not found.passes
    assert found.steps
    sizes = {(step.path, step.box): step.to_size for step in found.steps}
    after = worst_ratio(rewritten(site, sizes))
    assert after >= 1
    assert found.ratio_after == pytest.approx(after, rel=1e-12)
    for left_out in sizes:
        others = {key: size for key, size in sizes.items() if key != left_out}
        assert worst_ratio(rewritten(site, others)) < 1


@pytest.mark.parametrize("min_v", [23.2, 23.3, 23.5])
def test_step_by_step_is_near_the_cheapest(min_v: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """On six segments, where both are known: at most a tenth more copper."""
    site = needing("small-garden", min_v)
    exact = only(site)
    assert exact.search == "exact"
    monkeypatch.setattr("commission.expected.sizing.MAX_SETS", 0)
    quick = only(site)
    assert quick.search == "step by step"
    assert exact.added_copper_kg <= quick.added_copper_kg * (1 + 1e-9)
    assert quick.added_copper_kg <= exact.added_copper_kg * 1.1


def test_trying_all_finds_what_step_by_step_misses(monkeypatch: pytest.MonkeyPatch) -> None:
    """One segment of 140 ft is enough, where the two of 75 and 85 ft come first step by step."""
    site = needing("small-garden", 23.0)
    (step,) = only(site).steps
    assert worst_ratio(rewritten(site, {(step.path, step.box): step.to_size})) >= 1
    monkeypatch.setattr("commission.expected.sizing.MAX_SETS", 0)
    assert only(site).added_copper_kg > step.added_copper_kg * 1.1


def test_the_cheapest_does_not_depend_on_what_was_found_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    site = needing("small-garden", 23.3)
    found = only(site)
    monkeypatch.setattr("commission.expected.sizing._Search._step_by_step", lambda _search: None)
    alone = only(site)
    assert alone.search == "exact"
    assert alone.added_copper_kg == pytest.approx(found.added_copper_kg, rel=1e-12)


# What is replaced by what


def single(size: Any, metres: float, kind: Tables | None = None) -> Site:
    """One solenoid at the end of one segment; `kind` describes the cable named "own"."""
    tables = site_tables([("output", "B1", metres, size)], ["B1"])
    tables["cable_kind"] |= {"own": kind} if kind else {}
    return site_of(tables)


def too_far_m(size: Any, kind: Tables | None = None) -> float:
    """The first distance, in steps of a metre, that a cable does not reach."""
    fails = bisect_left(
        range(10_000), True, key=lambda metres: lowest_ratio(single(size, metres, kind)) < 1
    )
    return float(fails)


def enlarged_to(size: Any, metres: float, kind: Tables | None = None) -> list[tuple[str, str]]:
    return [(step.from_size, step.to_size) for step in only(single(size, metres, kind)).steps]


@pytest.mark.parametrize(
    ("size", "larger_size"),
    [("18 AWG", "16 AWG"), ("14 AWG", "12 AWG"), ("8 AWG", "6 AWG"), ("2.5 mm²", "4 mm²")],
)
def test_the_next_larger_size_of_its_own_family(size: str, larger_size: str) -> None:
    assert enlarged_to(size, too_far_m(size) - 1) == []
    assert enlarged_to(size, too_far_m(size)) == [(size, larger_size)]


def test_a_size_far_too_small_is_passed_over() -> None:
    assert enlarged_to("14 AWG", too_far_m("12 AWG")) == [("14 AWG", "10 AWG")]


def test_an_odd_gauge_goes_to_the_next_even_one() -> None:
    odd = {"conductor": "13 AWG"}
    assert enlarged_to("own", too_far_m("own", odd), odd) == [("13 AWG", "12 AWG")]


def test_a_pair_of_two_sizes_goes_to_the_larger_of_them_first() -> None:
    pair = ["14 AWG", "12 AWG"]
    assert enlarged_to(pair, too_far_m(pair)) == [("14 AWG + 12 AWG", "12 AWG")]


def test_stranded_cable_stays_stranded() -> None:
    """Stranded 12 AWG has 2 % more than solid (ASTM B8), so that it reaches less far."""
    strands = {"conductor": "14 AWG", "stranded": True}
    metres = too_far_m("12 AWG") - 1
    assert enlarged_to("14 AWG", metres) == [("14 AWG", "12 AWG")]
    assert enlarged_to("own", metres, strands) == [("14 AWG", "10 AWG")]


def test_a_size_that_gains_nothing_over_a_data_sheet_is_passed_over() -> None:
    """A 14 AWG stated to be as good as 12 AWG (1.588 ohm/1000 ft, NBS Handbook 100)."""
    good = {"conductor": "14 AWG", "resistance": "1.58 ohm/1000 ft"}
    assert enlarged_to("own", too_far_m("own", good), good) == [("14 AWG", "10 AWG")]


def test_sizes_have_the_copper_of_the_tables() -> None:
    for size, mm2 in AREA_MM2.items():
        assert area_m2(size) * 1e6 == pytest.approx(mm2, abs=5.1e-5)
    assert [kind.conductor for kind in larger(CableKind(conductor="8 AWG"))] == ["6 AWG"]
    assert larger(CableKind(conductor="4 AWG")) == ()
    assert [kind.conductor for kind in larger(CableKind(conductor="7 mm²"))] == [
        "10 mm²", "16 mm²",
    ]  # fmt: skip


@pytest.mark.parametrize("words", ["14 AWG", "14awg", " 14  AWG "])
def test_sizes_are_read_as_people_write_them(words: str) -> None:
    assert conductor_of(words).size == "14 AWG"


# Where cable alone cannot help


@pytest.mark.parametrize(
    ("metres", "stations", "output", "words"),
    [
        (9000.0, 1, {}, "no choice of sizes up to 6 AWG is enough"),
        (30.0, 6, {"rating": "20 VA", "regulation": "25 %"}, "too many stations at once for the"),
        (30.0, 1, {"rating": "60 VA", "regulation": "0 %", "rated_voltage": "22 V"},
         "the source is too weak"),
    ],
)  # fmt: skip
def test_the_reason_is_told(metres: float, stations: int, output: Tables, words: str) -> None:
    limits = {"stations_at_once": stations, **output}
    tables = site_tables([("output", "B1", metres, "14 AWG")], ["B1"] * stations, **limits)
    found = only(site_of(tables))
    assert not found.passes
    assert found.steps == ()
    assert words in found.reason


def test_standby_that_no_voltage_satisfies_fails_in_words() -> None:
    tables = site_tables([("output", "B1", 9000.0, "18 AWG")], ["B1"])
    tables["decoder_kind"]["one"] = {"standby_current": "2 A", "standby_model": "power"}
    found = only(site_of(tables))
    assert not found.passes
    assert found.ratio_before == 0
    assert found.reason


def test_the_document_is_plain_and_has_the_same_keys_everywhere() -> None:
    sites = [
        parse_site(samples()["two-paths"].read_bytes(), "two-paths"),
        needing("sixty-boxes", 22.8),
    ]
    passing, failing = (sizing_document(Sheet(site))[0] for site in sites)
    assert passing.keys() == failing.keys()
    assert passing["steps"] == []
    assert failing["steps"][0].keys() == {
        "path", "box", "from_size", "to_size", "length_m", "added_copper_kg",
    }  # fmt: skip
