"""The lines of a site as a tree and table."""

from __future__ import annotations

from commission.editing.rows import site_rows
from commission.resources import samples
from commission.site.load import load_site


def test_every_path_box_and_station_has_one_line() -> None:
    for sample in samples().values():
        site = load_site(sample)
        rows = site_rows(site)
        boxes = [(path.id, segment.to_box) for path in site.path for segment in path.segment]
        assert sorted((r.path, r.box) for r in rows if r.kind == "box") == sorted(boxes)
        assert sorted(r.station for r in rows if r.kind == "station") == sorted(
            station.id for station in site.station
        )
        assert [row.path for row in rows if row.kind == "path"] == [path.id for path in site.path]
        assert len({row.key for row in rows}) == len(rows)


def test_stations_stand_below_their_box_with_what_is_drawn_of_them() -> None:
    rows = site_rows(load_site(samples()["small-garden"]))
    place = next(n for n, row in enumerate(rows) if row.box == "B3")
    assert rows[place].drawn == "  ├─B3"
    assert rows[place].columns == ("120 ft", "pair-14", "wheel")
    below = rows[place + 1]
    assert (below.kind, below.station, below.box) == ("station", "S3", "B3")
    assert below.drawn == "  │    station 3"
    assert below.columns == ("address 103", "single", "valve-1in")
