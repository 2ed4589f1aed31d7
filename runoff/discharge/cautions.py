"""The cautions that every plan prints, whatever it recommends."""

from __future__ import annotations

CAUTIONS = (
    "Have buried utilities marked before digging (in the US, dial 811). Private lines (sprinkler, "
    "septic, gas to a grill) are not marked by that service.",
    "No one enters an unsupported trench that could cave in. Protection is required from 5 ft "
    "deep, a way out within 25 ft from 4 ft; spoil stays 2 ft back from the edge, and a competent "
    "person judges shallower trenches (29 CFR 1926.651 and .652).",
    "Never dig below a line at 45 degrees from a footing's bottom edge.",
    "Never lead water into a sanitary sewer, a septic field, a footing drain, a window well, or "
    "onto a neighbor.",
    "Keep pits away from foundations, basements, wells, septic fields, retaining walls and steep "
    "slopes; they take roof water only.",
    "Freezing ground, expansive clay and high groundwater need local advice.",
    "The local code and a licensed professional decide.",
)
