"""How much water a roof gives in a rain of steady intensity.

In: plan area, intensity and runoff coefficient. Out: flow in m3/s.
"""

from __future__ import annotations

from runoff.roof.amounts import not_negative, share


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
    area = not_negative("area_m2", area_m2)
    intensity = not_negative("intensity_m_per_s", intensity_m_per_s)
    return share("coefficient", coefficient) * intensity * area
