"""Heights and places that no yard has: the sample lot with one mistake made in it at a time.

What is implausible is common practice: soil stands no steeper than about 1 to 1.5, and no window
well's rim or door's sill is a story off the ground before it.
"""

from __future__ import annotations

import bz2
import csv
import gzip
import io
import lzma
import shutil
import zipfile
from pathlib import Path
from time import process_time

import numpy as np
import pytest
import rasterio

import runoff
from runoff.sample import sample_folder
from runoff.site import InputError, read_site
from runoff.terrain import build_terrain
from tests.told import told

GALLERY = Path(__file__).parents[2] / "docs" / "gallery"
LOT = "corners = [[-18, -40], [62, -40], [62, 80], [-18, 80]]"
OUTLET = "line = [[-30, -48.5], [74, -48.5]]"


def copied(tmp_path, old="", new="", heights=None, lot=None):
    """A copy of a lot's folder, one passage or all heights changed; its site file."""
    folder = tmp_path / "lot"
    shutil.copytree(lot or sample_folder(), folder)
    site = folder / "site.toml"
    text = site.read_text(encoding="utf-8")
    assert old in text
    site.write_text(text.replace(old, new) if old else text, encoding="utf-8")
    if heights is not None:
        with (folder / "spots.csv").open(newline="", encoding="utf-8") as sheet:
            rows = list(csv.reader(sheet))
        at = rows[0].index("z")
        z = np.array([float(row[at]) for row in rows[1:]])
        for row, height in zip(rows[1:], heights(z), strict=True):
            row[at] = f"{height:.2f}"
        with (folder / "spots.csv").open("w", newline="", encoding="utf-8") as sheet:
            csv.writer(sheet).writerows(rows)
    return site


def zipped(content):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("spots.csv", content)
    return packed.getvalue()


def refusals(site):
    """What is said where the lot is read and its ground made."""
    with pytest.raises(InputError) as caught:
        build_terrain(read_site(site))
    return [str(problem) for problem in caught.value.problems]


def with_height(row, height):
    return lambda z: np.where(np.arange(len(z)) == row, height, z)


@pytest.mark.parametrize("lot", [None, GALLERY / "hillside", GALLERY / "flat_clay"])
def test_a_surveyed_lot_is_asked_nothing(tmp_path, lot):
    site = read_site(copied(tmp_path, lot=lot))
    build_terrain(site)
    assert site.questions == ()


@pytest.mark.parametrize("fill", [-32768, 0, 9999, -9999])
@pytest.mark.parametrize("lot", [None, GALLERY / "hillside"])
def test_a_fill_value_is_refused_by_its_row(tmp_path, fill, lot):
    (said,) = refusals(copied(tmp_path, heights=with_height(20, fill), lot=lot))
    assert "spots.csv, line 22" in said
    assert f'"{fill}" is written' in said
    assert "leave a height that is not known empty" in said


def test_fill_values_in_many_rows_are_each_refused_and_no_right_row_with_them(tmp_path):
    site = copied(tmp_path, heights=lambda z: np.where(np.arange(len(z)) % 9 == 0, 0.0, z))
    said = refusals(site)
    assert len(said) == 6
    assert sum('"0" is written' in each for each in said) == 5
    assert sum("6 more shots" in each for each in said) == 1


def test_heights_a_million_times_too_great_are_refused(tmp_path):
    assert any(
        "no yard" in s or "of ground" in s
        for s in refusals(copied(tmp_path, heights=lambda z: 1e6 * z))
    )


def test_heights_in_meters_on_a_lot_in_feet_are_refused(tmp_path):
    """The benchmark is 100.42 ft; the shots, in meters, stand at 30: 70 ft apart."""
    (said,) = refusals(copied(tmp_path, heights=lambda z: 0.3048 * z))
    assert "[site] benchmark" in said
    assert "70 ft" in said
    no_mark = (
        'benchmark = { name = "corner of the porch step", height = 100.42, backsight = "4.61 ft" }'
    )
    (tmp_path / "again").mkdir()
    unmarked = refusals(copied(tmp_path / "again", no_mark, "", heights=lambda z: 0.3048 * z))
    assert sum("one of the two looks like meters" in each for each in unmarked) >= 3


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("lot", [None, GALLERY / "hillside", GALLERY / "flat_clay"])
def test_shuffled_heights_are_asked_about_first(tmp_path, seed, lot):
    random = np.random.default_rng(seed)
    site = read_site(copied(tmp_path, heights=random.permutation, lot=lot))
    (asked,) = site.questions
    assert asked.code == "heights shuffled"
    assert site.height_accuracy.indication_only


@pytest.mark.parametrize("by", [1, -1])
def test_rows_that_slipped_by_one_are_asked_about_before_anything_else(tmp_path, by):
    site = read_site(copied(tmp_path, heights=lambda z: np.roll(z, by)))
    findings = runoff.inspect(site)
    assert findings.attention[0].startswith("The heights fit their positions better moved one row")
    assert ("row up" if by > 0 else "row down") in findings.attention[0]
    assert all(run.indication for run in findings.at_the_wall.runs)


@pytest.mark.parametrize(
    ("right", "wrong", "off"),
    [("rim = 99.23", "rim = 992.3", "893 ft"), ("sill = 101.00", "sill = 181.00", "81 ft")],
)
def test_an_opening_off_its_ground_is_refused(tmp_path, right, wrong, off):
    (said,) = refusals(copied(tmp_path, right, wrong))
    assert wrong.split(" = ")[0] in said
    assert f"stands {off}" in said


@pytest.mark.parametrize("fill", [-32768.0, 0.0, 8000.0, 1e6])
def test_undeclared_fill_in_elevation_data_is_refused(tmp_path, fill):
    copied(tmp_path)
    tile = tmp_path / "lot" / "lot.tif"
    with rasterio.open(tile) as data:
        heights, profile = data.read(1), data.profile
    heights[40:43, 40:43] = fill if fill < 1e5 else heights[40:43, 40:43] * fill
    profile.update(nodata=None)
    with rasterio.open(tile, "w", **profile) as data:
        data.write(heights, 1)
    if not -500.0 < heights[41, 41] < 9999.0:
        # What no ground on earth has is taken for none where the tile is read.
        ground = build_terrain(read_site(tmp_path / "lot" / "site_from_elevation.toml")).ground
        assert np.nanmin(ground) > 25.0
        assert np.nanmax(ground) < 35.0
        return
    (said,) = refusals(tmp_path / "lot" / "site_from_elevation.toml")
    assert "nodata" in said
    assert "cells around the lot" in said


@pytest.mark.parametrize(
    ("left", "right", "said_of"),
    [
        (100, 180, "lies 40 ft off"),
        (10000, 10080, "lies 9940 ft off"),
        (24, 62, "67% of it lies beyond the lot line"),
    ],
)
def test_a_lot_that_misses_its_house_is_refused(tmp_path, left, right, said_of):
    """The garage's right wall is at 60 ft; the house's 36 ft, cut at 24."""
    corners = f"corners = [[{left}, -40], [{right}, -40], [{right}, 80], [{left}, 80]]"
    (said,) = refusals(copied(tmp_path, LOT, corners))
    assert said_of in said


def test_a_lot_line_through_a_corner_of_the_house_is_said(tmp_path):
    site = read_site(copied(tmp_path, LOT, LOT.replace("-18", "4")))
    (said,) = [notice for notice in told(site) if "lot line runs through" in notice]
    assert "11% of it lies off the lot, up to 4 ft" in said


def test_an_outlet_and_a_downspout_far_off_are_refused(tmp_path):
    (said,) = refusals(copied(tmp_path, OUTLET, OUTLET.replace("48.5", "4850")))
    assert "4810 ft off" in said
    far = 'at = [-200, 10]\nsize = "2 x 3 in"'
    near = 'at = { building = "house", wall = "front", distance = "1 ft", out = "4 in" }\n'
    (tmp_path / "again").mkdir()
    (said,) = refusals(copied(tmp_path / "again", near + 'size = "2 x 3 in"', far))
    assert "downspout 'front left'" in said
    assert "200 ft from any building" in said


def refused_at_once(site):
    begun = process_time()
    said = refusals(site)
    assert process_time() - begun < 10.0
    return said


@pytest.mark.parametrize("feet", ["62000000", "-62000000", "9999"])
@pytest.mark.parametrize("column", [1, 2])
def test_a_single_shot_far_off_is_named(tmp_path, feet, column):
    site = copied(tmp_path)
    rows = (site.parent / "spots.csv").read_text().splitlines()
    cells = rows[9].split(",")
    cells[column] = feet
    rows[9] = ",".join(cells)
    (site.parent / "spots.csv").write_text("\n".join(rows) + "\n")
    (said,) = refused_at_once(site)
    assert "spots.csv, line 10: spot height 'HL4'" in said
    assert f"lies {abs(float(feet)) * 0.3048 / 1000:,.0f} km off" in said


def test_a_shot_down_the_road_stays(tmp_path):
    """A street's inlet 700 ft off is on no lot, but may well have been leveled."""
    site = copied(tmp_path)
    sheet = site.parent / "spots.csv"
    sheet.write_text(sheet.read_text() + "inlet,700,-40,97.2,\n")
    assert len(read_site(site).spot_heights) == 98


@pytest.mark.parametrize(
    "slip", ["[50020.0, 4816400.0]", "[4816400.0, 500200.0]", "[500200.0, 481640.0]", "[-86.5, 43]"]
)
def test_a_slip_in_the_map_origin_is_told_alone(tmp_path, slip):
    """A digit lost, the two swapped, degrees: not a line for all that lies on the plan."""
    site = copied(tmp_path).with_name("site_from_elevation.toml")
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace("[500200.0, 4816400.0]", slip), encoding="utf-8")
    (said,) = refused_at_once(site)
    assert "[site] map_origin" in said
    assert "km off" in said


@pytest.mark.parametrize("pack", [gzip.compress, bz2.compress, lzma.compress, zipped])
def test_a_packed_sheet_is_refused_as_one(tmp_path, pack):
    site = copied(tmp_path)
    sheet = site.parent / "spots.csv"
    sheet.write_bytes(pack(sheet.read_bytes()))
    (said,) = refused_at_once(site)
    assert "it is packed, or a spreadsheet's own file: unpack it" in said
    assert "spots.csv" in said
