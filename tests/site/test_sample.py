"""The sample lot is read from both of its site files, and both say the same lot."""

from pathlib import Path

import numpy as np
import pytest

from runoff import read_site

SAMPLE = Path(__file__).parents[2] / "sample_terrain"


@pytest.mark.parametrize("place", [SAMPLE, SAMPLE / "site.toml", str(SAMPLE)])
def test_folder_or_file(place):
    assert read_site(place).name == "Sample lot (invented)"


def test_both_site_files_place_the_downspouts_alike():
    by_hand = read_site(SAMPLE / "site.toml")
    on_map = read_site(SAMPLE / "site_from_elevation.toml")
    places = [np.array([(d.x, d.y) for d in site.downspouts]) for site in (by_hand, on_map)]
    assert len(places[0]) >= 4
    assert np.abs(places[0] - places[1]).max() < 0.01
    assert by_hand.georeference is None
    assert on_map.georeference.metres_per_unit == 1.0
