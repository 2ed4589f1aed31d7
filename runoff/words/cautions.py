"""The cautions that every plan prints, whatever it recommends."""

from __future__ import annotations

_TRENCH = (
    "No one enters an unsupported trench that could cave in. Protection is required from {} "
    "deep, a way out within {} from {}; spoil stays {} back from the edge, and a competent "
    "person judges shallower trenches (29 CFR 1926.651 and .652)."
)
CAUTIONS = (
    "Have buried utilities marked before digging (in the US, dial 811). Private lines (sprinkler, "
    "septic, gas to a grill) are not marked by that service.",
    _TRENCH.format("5 ft", "25 ft", "4 ft", "2 ft"),
    "Never dig below a line at 45 degrees from a footing's bottom edge.",
    "Never lead water into a sanitary sewer, a septic field, a footing drain, a window well, or "
    "onto a neighbor.",
    "Keep pits away from foundations, basements, wells, septic fields, retaining walls and steep "
    "slopes; they take roof water only.",
    "Freezing ground, expansive clay and high groundwater need local advice.",
    "The local code and a licensed professional decide.",
)


def cautions_for(units: str) -> tuple[str, ...]:
    """The cautions in a site's units, ``"ft"`` or ``"m"``; the trench's depths never rounded up."""
    if units == "ft":
        return CAUTIONS
    told, metric = _TRENCH.format("5 ft", "25 ft", "4 ft", "2 ft"), ("1.5 m", "7.5 m", "1.2 m")
    return tuple(_TRENCH.format(*metric, "0.6 m") if c == told else c for c in CAUTIONS)
