"""Fractal terrains for the benchmarks: natural ones have a pit in about 1 to 3 of 100 cells."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# Power falls off with frequency ^ -3.6, a surface of fractal dimension 2.2 (Voss 1988, in The
# Science of Fractal Images, gives power ~ frequency ^ -(2 H + 2) and dimension 3 - H for a surface;
# cited from memory). A pit in 2 of 100 cells.
POWER = 3.6


def fractal(n: int, seed: int = 0, power: float = POWER) -> NDArray[np.float32]:
    """An (n, n) float32 terrain by spectral synthesis, standard deviation 100 m."""
    noise = np.random.default_rng(seed).standard_normal((n, n), dtype=np.float32)
    spectrum = np.fft.rfft2(noise)
    frequency = np.hypot(np.fft.fftfreq(n)[:, None], np.fft.rfftfreq(n)[None])
    frequency[0, 0] = 1.0
    spectrum *= (frequency ** (-power / 2)).astype(np.float32)
    z = np.fft.irfft2(spectrum, s=(n, n))
    return (100.0 * z / z.std()).astype(np.float32)
