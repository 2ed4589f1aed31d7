"""Coarse models resampled to fine cells are recognized; rough ground of any kind is not accused.

Grounds: fractal surfaces made by filtering noise in the spectrum (power k^-2(H+1) in two
dimensions, the textbook spectral synthesis), and matplotlib's own sample elevation model.
"""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.cbook import get_sample_data
from scipy.ndimage import map_coordinates, zoom

from runoff.terrain import cells_of_detail


def _fractal(size: int, hurst: float, seed: int) -> np.ndarray:
    """Rough ground with 5 cm from cell to cell."""
    wave = np.hypot(*np.meshgrid(np.fft.fftfreq(size), np.fft.fftfreq(size)))
    wave[0, 0] = np.inf
    noise = np.fft.fft2(np.random.default_rng(seed).normal(size=(size, size)))
    ground = np.fft.ifft2(noise * wave ** -(hurst + 1)).real
    return 0.05 * ground / np.sqrt(np.mean(np.diff(ground) ** 2))


def _resampled(coarse: np.ndarray, times: int, order: int) -> np.ndarray:
    """A model on cells so many times finer: nearest (0), bilinear (1) or cubic (3)."""
    place = (np.arange(times * len(coarse)) + 0.5) / times - 0.5
    place = place[(place > 1) & (place < len(coarse) - 2)][:130]
    return map_coordinates(coarse, np.meshgrid(place, place, indexing="ij"), order=order)


@pytest.mark.parametrize("order", [0, 1, 3])
@pytest.mark.parametrize("times", [3, 5, 8])
@pytest.mark.parametrize("hurst", [0.4, 0.7, 0.9])
def test_a_coarse_model_is_recognized_and_its_cell_told(hurst, times, order):
    fine = _fractal(600, hurst, seed=times)
    side = 600 // times
    whole = fine[: side * times, : side * times]
    coarse = whole.reshape(side, times, side, times).mean((1, 3))[:60, :60]
    found = cells_of_detail(_resampled(coarse, times, order))
    assert found is not None
    # Lines between coarse cells are counted; of a smooth curve the cell is known by half of it.
    assert found == pytest.approx(times, rel=0.05 if order < 3 else 0.5)


@pytest.mark.parametrize("hurst", [0.2, 0.5, 0.8, 0.98])
@pytest.mark.parametrize("seed", range(6))
def test_rough_ground_is_never_accused(hurst, seed):
    ground = _fractal(256, hurst, seed)[:130, :110]
    noise = np.random.default_rng(seed).normal(size=ground.shape)
    assert cells_of_detail(ground) is None
    assert cells_of_detail(ground + 0.1 * noise) is None
    assert cells_of_detail(np.round(ground, 2)) is None


def test_a_real_model_is_not_accused_until_it_is_resampled():
    with np.load(get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as sample:
        real = sample["elevation"].astype(np.float64)
    assert cells_of_detail(real) is None
    coarse = real[:340, :400].reshape(68, 5, 80, 5).mean((1, 3))
    for order in (0, 3):
        assert cells_of_detail(zoom(coarse, 5, order=order)) == pytest.approx(5, rel=0.35)
    assert cells_of_detail(_resampled(coarse, 5, 1)) == pytest.approx(5, rel=0.05)


def test_nothing_is_said_of_a_plane_a_bowl_or_a_valley():
    x, y = np.meshgrid(np.arange(100.0), np.arange(90.0))
    plane = 10 + 0.03 * x - 0.01 * y
    noise = np.random.default_rng(3).normal(size=plane.shape)
    for ground in (plane, plane + 0.002 * noise, np.round(plane, 2), plane + 1e-4 * (x - 40) ** 2):
        assert cells_of_detail(ground) is None
    assert cells_of_detail(plane + 0.05 * np.abs(x - 43)) is None
    assert cells_of_detail(plane[:20]) is None
    assert cells_of_detail(np.full((90, 90), np.nan)) is None
