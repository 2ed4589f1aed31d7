"""The sample lot: its files follow from its ground function, and copies respect what is there."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import rasterio

from runoff.sample import FILES, copy_sample, sample_folder


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
    assert 75 <= len(rows) <= 95
    for row in rows:
        ground = float(script.ground(float(row["x"]), float(row["y"])))
        assert float(row["z"]) == pytest.approx(ground, abs=0.0051), row["name"]


def test_raster_is_the_same_lot_as_the_spot_heights() -> None:
    """Plan feet, the map's origin and metres meet: the raster under a shot has its height."""
    script = make_script()
    east, north = script.MAP_ORIGIN_M
    with rasterio.open(sample_folder() / "lot.tif") as raster:
        for name, x, y in (("B6", 18.0, 56.0), ("B3", 18.0, 38.0), ("N2", -29.0, 0.0)):
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
