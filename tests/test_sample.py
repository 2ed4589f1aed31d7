"""The sample lot: its files follow from its ground function, and copies respect what is there."""

from __future__ import annotations

import csv
import importlib.util
from functools import lru_cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import rasterio
from shapely import contains_xy

from runoff import inspect, read_site
from runoff.flow import DownspoutAnswer, LowSpot
from runoff.inspection import Findings
from runoff.sample import FILES, copy_sample, sample_folder
from tests.lots.planned import planned
from tests.told import told


def make_script() -> ModuleType:
    """The sample's own script, loaded from its folder."""
    spec = importlib.util.spec_from_file_location("make_sample", sample_folder() / "make.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_text_files_are_what_the_script_writes(tmp_path: Path) -> None:
    make_script().write_all(tmp_path)
    for name in ("spots.csv", "outlines.geojson"):
        assert (tmp_path / name).read_bytes() == (sample_folder() / name).read_bytes()


def test_raster_is_what_the_script_writes(tmp_path: Path) -> None:
    make_script().write_all(tmp_path)
    with (
        rasterio.open(tmp_path / "lot.tif") as new,
        rasterio.open(sample_folder() / "lot.tif") as old,
    ):
        assert new.crs == old.crs
        assert new.transform == old.transform
        # Another machine's arithmetic may round the last millimetre the other way.
        np.testing.assert_allclose(new.read(1), old.read(1), atol=0.0011)


def test_every_spot_height_stands_on_the_ground_function() -> None:
    script = make_script()
    with (sample_folder() / "spots.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert 75 <= len(rows) <= 100
    for row in rows:
        ground = float(script.ground(float(row["x"]), float(row["y"])))
        assert float(row["z"]) == pytest.approx(ground, abs=0.0051), row["name"]


def test_raster_is_the_same_lot_as_the_spot_heights() -> None:
    """Plan feet, the map's origin and metres meet: the raster under a shot has its height."""
    script = make_script()
    east, north = script.MAP_ORIGIN_M
    with rasterio.open(sample_folder() / "lot.tif") as raster:
        for name, x, y in (("B6", 14.0, 56.0), ("B3", 18.0, 38.0), ("N2", -29.0, 0.0)):
            at = [(east + x * 0.3048, north + y * 0.3048)]
            (height,) = next(raster.sample(at))
            assert height / 0.3048 == pytest.approx(float(script.ground(x, y)), abs=0.06), name


def test_copy_holds_every_file_and_can_be_made_again(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "demo"
    copied = copy_sample(folder)
    assert sorted(path.name for path in copied) == sorted(FILES)
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    assert copy_sample(folder) == copied


def test_copy_leaves_a_file_of_the_users_alone(tmp_path: Path) -> None:
    mine = tmp_path / "spots.csv"
    mine.write_text("my own survey\n")
    with pytest.raises(FileExistsError, match=r"spots\.csv is there already"):
        copy_sample(tmp_path)
    assert mine.read_text() == "my own survey\n"
    assert [path.name for path in tmp_path.iterdir()] == ["spots.csv"]
    copy_sample(tmp_path, overwrite=True)
    assert mine.read_bytes() == (sample_folder() / "spots.csv").read_bytes()


def test_copy_into_a_file_is_refused(tmp_path: Path) -> None:
    there = tmp_path / "demo"
    there.write_text("x")
    with pytest.raises(FileExistsError, match="is a file; name a folder"):
        copy_sample(there)


@lru_cache(maxsize=2)
def findings_of(name: str) -> Findings:
    """What an inspection of the sample lot finds, from one of its site files."""
    if name == "site.toml":
        return planned("sample").findings
    return inspect(read_site(sample_folder() / name))


SITES = ("site.toml", "site_from_elevation.toml")


def answers(name: str) -> dict[str, DownspoutAnswer]:
    return {answer.name: answer for answer in findings_of(name).downspouts}


def low_spot_with(name: str, answer: DownspoutAnswer) -> LowSpot:
    """The low spot that a downspout's water meets first."""
    spots = {spot.name: spot for spot in findings_of(name).low_spots}
    return spots[answer.on_the_way[0].name]


@pytest.mark.parametrize("name", SITES)
def test_front_left_leaves_the_flat_and_runs_to_the_street(name: str) -> None:
    """Flat at the wall, a good fall beyond: what a short extension solves."""
    answer = answers(name)["front left"]
    assert (answer.end.kind, answer.end.name, answer.end.neighbor) == (
        "lot side",
        "front",
        "street",
    )
    assert not answer.on_the_way
    assert answer.length_within_reach_m < 12 * 0.3048


@pytest.mark.parametrize("name", SITES)
def test_front_right_runs_onto_the_neighbor_though_the_street_lies_lower(name: str) -> None:
    """A line of 48 ft to the curb has 3 ft of fall: it can come to daylight there."""
    answer = answers(name)["front right"]
    assert (answer.end.kind, answer.end.neighbor) == ("lot side", "neighbor")
    script = make_script()
    fall = float(script.ground(35.0, -1.0)) - float(script.ground(35.0, -48.0))
    assert fall > 3.0


@pytest.mark.parametrize("name", SITES)
def test_rear_right_stays_in_a_hollow_that_holds_several_cubic_metres(name: str) -> None:
    answer = answers(name)["rear right"]
    assert answer.end.kind == "low spot"
    hollow = low_spot_with(name, answer)
    assert hollow.on_lot
    assert not hollow.overflows
    # The bowl to its full depth is pi / 2 x 1.25 ft x (16 ft)^2, or 14.2 m3; triangles between a
    # few shots cut it short.
    assert 8.0 < hollow.volume_m3 < 14.2
    assert hollow.storm_volume_m3 > answer.roof_volume_m3


@pytest.mark.parametrize("name", SITES)
def test_rear_left_runs_back_along_the_foundation(name: str) -> None:
    """It keeps within 5 ft of the wall for most of the house's 28 ft, and stands there."""
    answer = answers(name)["rear left"]
    assert answer.length_within_near_m > 22 * 0.3048
    trough = low_spot_with(name, answer)
    assert trough.building == "house"
    assert trough.wall_distance_m is not None
    assert trough.wall_distance_m < 0.5
    assert trough.storm_depth_m > 0.05


@pytest.mark.parametrize("name", SITES)
def test_garage_runs_onto_open_ground(name: str) -> None:
    answer = answers(name)["garage"]
    assert (answer.end.kind, answer.end.name, answer.end.neighbor) == (
        "lot side",
        "rear",
        "open ground",
    )


def test_sound_survey_raises_no_suspect_and_covers_the_lot() -> None:
    terrain = findings_of("site.toml").terrain
    assert terrain.suspects == ()
    lot = findings_of("site.toml").site.lot
    assert lot is not None
    x, y = terrain.grid.centers()
    xx, yy = np.meshgrid(x, y)
    on_lot = contains_xy(lot.boundary, xx, yy)
    assert (np.isfinite(terrain.ground) | terrain.closed)[on_lot].all()


@pytest.mark.parametrize("name", SITES)
def test_the_hollow_lies_far_enough_from_the_house_for_the_usual_rules(name: str) -> None:
    """By more than a foot over the 10 ft asked, so that nothing is said to hang on inches.

    Out from the rear wall through B2 (10 ft, 99.25 ft) and B7 (19 ft, 98.33 ft) the ground comes
    to the spill height, that of B12 (99.13 ft), 10 + 9 x 0.12 / 0.92 = 11.2 ft out.
    """
    findings = findings_of(name)
    assert not findings.site.rules.overridden
    hollow = low_spot_with(name, answers(name)["rear right"])
    assert hollow.wall_distance_m is not None
    assert hollow.wall_distance_m > 11 * 0.3048
    assert not any("so little decides" in notice for notice in told(findings))
    if name == "site.toml":
        assert hollow.wall_distance_m / 0.3048 == pytest.approx(11.2, abs=0.4)  # half a cell
        assert hollow.depth_m / 0.0254 == pytest.approx((99.13 - 97.88) * 12)
