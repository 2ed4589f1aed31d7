"""Neighbors' buildings and outlines that overlap, as files of a whole quarter bring them."""

from __future__ import annotations

import geopandas
import numpy as np
import pytest
from shapely import Polygon, box, union_all
from shapely.affinity import translate

from runoff import inspect, read_site
from runoff.report import shown_part, summary_text
from runoff.terrain import Grid, building_cells, narrowest_gap
from tests.lots.on_map import EAST, NORTH, UTM, tile
from tests.lots.rich import problems_of
from tests.told import told

LOT = "[lot]\ncorners = [[-6, -6], [18, -6], [18, 14], [-6, 14]]\n"
HOUSE = box(0, 0, 12, 8)


def _file(folder, *shapes):
    placed = [translate(shape, EAST, NORTH) for shape in shapes]
    geopandas.GeoDataFrame(geometry=placed, crs=UTM).to_file(folder / "quarter.gpkg")


def _site(folder, buildings, rest=LOT, surface=None):
    """A house with 1 m elevation data about it, 3 % up to the right."""
    slope = surface or (lambda x, y: 20.0 + 0.03 * (x - EAST))
    tile(folder / "dem.tif", (-80.0, -80.0, 90.0, 90.0), 1.0, slope)
    path = folder / "site.toml"
    path.write_text(
        f'[site]\nname = "invented lot"\nunits = "m"\nmap_origin = [{EAST}, {NORTH}]\n'
        f'[terrain]\nelevation = "dem.tif"\naccuracy = "0.01"\n{buildings}\n{rest}'
    )
    return path


def _drawn(name, shape, more=""):
    corners = [list(at) for at in list(shape.exterior.coords)[:-1]]
    return f'[[building]]\nname = "{name}"\ncorners = {corners}\n{more}\n'


def _row(count):
    """Houses in rows about the lot, none of which lies on it."""
    places = [(20 * k, 22 + 20 * (k % 2)) for k in range(-count // 2, count // 2)]
    return [box(x, y, x + 10, y + 9) for x, y in places]


def test_the_rest_of_a_file_is_in_the_water_s_way_and_not_judged(tmp_path):
    _file(tmp_path, HOUSE, *_row(6), box(500, 500, 510, 510))
    path = _site(
        tmp_path,
        '[[building]]\nname = "house"\noutline = { file = "quarter.gpkg", pick = 1 }\n'
        '[[building]]\nname = "next"\noutline = { file = "quarter.gpkg" }\nneighbor = true\n',
    )
    site = read_site(path)
    assert [building.name for building in site.own_buildings] == ["house"]
    assert len(site.buildings) == 7, "six near the lot; the far one is left out"
    findings = inspect(site)
    assert {run.building for run in findings.at_the_wall.runs} == {"house"}
    closed = set(np.unique(findings.terrain.building)) - {-1}
    assert len(closed) > 1, "the water runs round the neighbors' houses"
    assert "next" not in " ".join(findings.attention)
    alone = inspect(read_site(_site(tmp_path, _drawn("house", HOUSE))))
    assert findings.terrain.grid == alone.terrain.grid, "no more ground is read for their sake"
    assert shown_part(findings) == shown_part(alone)
    lines = [summary_text(each).count("\n") for each in (findings, alone)]
    assert lines[0] <= lines[1] + 2


def test_the_map_shows_the_lot_not_the_data(tmp_path):
    left, right, bottom, top = shown_part(
        inspect(read_site(_site(tmp_path, _drawn("house", HOUSE))))
    )
    assert max(-6 - left, right - 18, -6 - bottom, top - 14) < 9


def test_a_building_off_the_lot_is_a_neighbor_s_unless_said(tmp_path):
    off = box(30, 0, 40, 8)
    site = read_site(_site(tmp_path, _drawn("house", HOUSE) + _drawn("barn", off)))
    assert [building.neighbor for building in site.buildings] == [False, True]
    assert any("'barn'" in notice and "neighbor = false" in notice for notice in told(site))
    said = _drawn("barn", off, "neighbor = false")
    site = read_site(_site(tmp_path, _drawn("house", HOUSE) + said))
    assert not site.buildings[1].neighbor
    spout = (
        '[[roof]]\nname = "roof"\nplan_area = "80 m2"\n'
        '[[downspout]]\nname = "D"\nroofs = ["roof"]\n'
        'at = { building = "barn", wall = 1, distance = 2 }\n'
    )
    site = read_site(_site(tmp_path, _drawn("house", HOUSE) + _drawn("barn", off), LOT + spout))
    assert not site.buildings[1].neighbor


def test_water_is_not_let_go_at_a_neighbor_s_house(tmp_path):
    """A neighbor's house beside the lot takes away safe ground, just as one's own does."""
    safe = []
    for neighbor in (box(19, -4, 29, 10), None):
        more = "" if neighbor is None else _drawn("next", neighbor, "neighbor = true")
        path = _site(tmp_path, _drawn("house", HOUSE) + more)
        findings = inspect(read_site(path))
        grid, code = findings.terrain.grid, findings.at_the_wall.safe_area.code
        safe.append({findings.at_the_wall.safe_area.reason(*grid.cell(17.5, y)) for y in (0, 2, 4)})
        assert code.shape == (grid.rows, grid.cols)
    assert safe[0] == {"too near a foundation"}
    assert "too near a foundation" not in safe[1]


def test_an_opening_in_a_neighbor_s_wall_is_refused(tmp_path):
    opening = (
        '[[opening]]\nname = "door"\nkind = "door"\nwidth = 1\nsill = 20.5\n'
        'at = { building = "next", wall = 1, distance = 2 }\n'
    )
    off = _drawn("next", box(30, 0, 40, 8), "neighbor = true")
    (problem,) = problems_of(_site(tmp_path, _drawn("house", HOUSE) + off, LOT + opening))
    assert "neighbor's" in problem.expected


def test_outlines_that_overlap_are_cut_with_a_notice(tmp_path):
    garage, next_door = box(11.7, 0, 17, 6), box(-10, 0, 0.4, 8)
    path = _site(
        tmp_path,
        _drawn("house", HOUSE)
        + _drawn("garage", garage)
        + _drawn("next", next_door, "neighbor = true"),
    )
    site = read_site(path)
    (notice,) = [text for text in told(site) if "overlap" in text]
    assert "'house' and 'garage' (1.8 m2), 'house' and 'next' (3.2 m2)." in notice
    assert site.buildings[2].outline.intersection(HOUSE).area == pytest.approx(0, abs=1e-9)
    assert site.buildings[2].outline.area == pytest.approx(80)
    findings = inspect(site)
    covered = (findings.terrain.building >= 0).sum() * findings.terrain.grid.cell_area
    assert covered == pytest.approx(union_all([HOUSE, garage, next_door]).area, rel=0.15)
    inside = HOUSE.buffer(-0.1).union(garage.buffer(-0.1))
    for run in findings.at_the_wall.runs:
        for station in run.stations:
            assert not inside.contains(Polygon(_around(station.foot)))


def _around(at):
    x, y = at
    return [(x - 0.01, y - 0.01), (x + 0.01, y - 0.01), (x, y + 0.01)]


def test_outlines_that_share_most_of_their_ground_are_a_mistake(tmp_path):
    twice = _drawn("house", HOUSE) + _drawn("again", box(1, 0, 12, 8))
    (problem,) = problems_of(_site(tmp_path, twice))
    assert "overlaps building 'house' by 88 m2" in problem.expected


def test_the_gap_between_two_neighbors_houses_does_not_set_the_cells(tmp_path):
    gap = [box(30, 0, 36, 8), box(36.19, 0, 45, 8)]
    theirs = "".join(
        _drawn(f"next {k}", shape, "neighbor = true") for k, shape in enumerate(gap, 1)
    )
    site = read_site(_site(tmp_path, _drawn("house", HOUSE) + theirs))
    assert inspect(site).terrain.grid.cell_size == 1.0
    undeclared = "".join(
        _drawn(f"next {k}", shape, "neighbor = false") for k, shape in enumerate(gap, 1)
    )
    site = read_site(_site(tmp_path, _drawn("house", HOUSE) + undeclared))
    assert inspect(site).terrain.grid.cell_size == 1.0, "the gap does not lie on the lot"
    assert narrowest_gap(site.buildings) == pytest.approx(0.19)


def test_a_gap_on_the_lot_makes_no_finer_cells_than_the_data_bears(tmp_path):
    shed = _drawn("shed", box(12.19, 0, 15, 3))
    findings = inspect(read_site(_site(tmp_path, _drawn("house", HOUSE) + shed)))
    assert findings.terrain.grid.cell_size == 0.25
    assert any("narrowest gap between buildings, 190 mm," in text for text in told(findings))
    wide = _drawn("shed", box(13.2, 0, 16, 3))
    findings = inspect(read_site(_site(tmp_path, _drawn("house", HOUSE) + wide)))
    grid = findings.terrain.grid
    between = building_cells(findings.site.buildings, Grid(1, 1, 1.2, 12.0, 1.0))
    assert grid.cell_size <= 0.4
    assert between[0, 0] == -1
    assert not any("narrowest gap" in text for text in told(findings))
