"""How much water rain gives: the flow of a steady rain, and the runoff of a whole storm.

In: plan area, intensity and runoff coefficient, or depth and curve number. Out: SI.
"""

from __future__ import annotations

from runoff.quantities.numbers import not_negative, share
from runoff.quantities.reading import INCH


def design_flow(area_m2: float, intensity_m_per_s: float, coefficient: float = 1.0) -> float:
    """The flow that a catchment gives, by the rational formula Q = C i A.

    Every gutter, leader and line is sized by this flow. Nothing is taken off for the time that
    water needs to run down a roof: over a house it is shorter than the five minutes of the rain.

    Parameters
    ----------
    area_m2 : float
        Plan area in square metres, with its allowance for wind-blown rain where one is made.
    intensity_m_per_s : float
        Intensity of the rain, metres of depth a second.
    coefficient : float
        Share of the rain that runs off, above 0 and at most 1.

    Returns
    -------
    float
        Flow in cubic metres a second.

    Raises
    ------
    ValueError
        Where area or intensity is negative or not finite, or the coefficient is not a share.

    Examples
    --------
    100 m2 at 75 mm/h:

    >>> round(1000 * design_flow(100.0, 0.075 / 3600), 2)
    2.08
    """
    area = not_negative(area_m2, "area_m2")
    intensity = not_negative(intensity_m_per_s, "intensity_m_per_s")
    return share(coefficient, "coefficient") * intensity * area


def curve_number_runoff(depth_m: float, curve_number: float) -> float:
    """The depth that runs off ground in a whole storm, by its curve number.

    Q = (P - 0.2 S)^2 / (P + 0.8 S) with S[in] = 1000 / CN - 10, and nothing up to P = 0.2 S.

    Parameters
    ----------
    depth_m : float
        Depth of the storm in metres.
    curve_number : float
        Above 0 and at most 100, where all runs off.

    Returns
    -------
    float
        Depth of runoff in metres.

    Raises
    ------
    ValueError
        Where the depth is negative or the curve number out of range.

    References
    ----------
    US Soil Conservation Service (1986). Urban hydrology for small watersheds, TR-55.

    Examples
    --------
    8 in on ground of curve number 80, in inches:

    >>> round(curve_number_runoff(0.2032, 80) / 0.0254, 3)
    5.625
    """
    rain = not_negative(depth_m, "depth_m")
    if not 0 < curve_number <= 100:
        raise ValueError(f"curve_number is {curve_number:g}; expected above 0 and at most 100")
    kept = (1000 / curve_number - 10) * float(INCH)
    if rain <= 0.2 * kept:
        return 0.0
    return (rain - 0.2 * kept) ** 2 / (rain + 0.8 * kept)
