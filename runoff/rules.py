"""Every default limit, with its source, in one table.

In: nothing, or the overrides that a site file gives. Out: SI values by name. Adding a rule for a
local code is adding a row to `_ROWS`; the value is read from the row's own words.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Literal

from runoff.quantities import (
    QuantityError,
    parse_duration,
    parse_flow,
    parse_length,
    parse_rate,
    parse_ratio,
    parse_slope,
)

Kind = Literal[
    "length",
    "slope",
    "share",
    "ratio",
    "count",
    "curve number",
    "roughness",
    "intensity",
    "velocity",
    "duration",
    "flow",
]
Standing = Literal["read", "recalled", "common practice"]


def _share(written: str | float) -> float:
    value = parse_ratio(written)
    if value > 1:
        raise QuantityError(written, "share", "it is more than 1")
    return value


def _count(written: str | float) -> float:
    value = parse_ratio(written)
    if not value.is_integer():
        raise QuantityError(written, "count", "it is not a whole number")
    return value


def _curve_number(written: str | float) -> float:
    value = parse_ratio(written)
    if not 0 < value <= 100:
        raise QuantityError(written, "curve number", "it is not above 0 and at most 100")
    return value


# Each kind with its SI unit, how its text is read, and an example.
_KINDS: Mapping[Kind, tuple[str, Callable[[str | float], float], str]] = {
    "length": ("m", parse_length, "6 ft"),
    "slope": ("m/m", parse_slope, "2 %"),
    "share": ("1", _share, "0.9"),
    "ratio": ("1", parse_ratio, "2"),
    "count": ("1", _count, "3"),
    "curve number": ("1", _curve_number, "74"),
    "roughness": ("s/m^(1/3)", parse_ratio, "0.010"),
    "intensity": ("m/s", parse_rate, "0.5 in/h"),
    "velocity": ("m/s", parse_rate, "2 ft/s"),
    "duration": ("s", parse_duration, "24 h"),
    "flow": ("m3/s", parse_flow, "50 gpm"),
}


@dataclass(frozen=True)
class Rule:
    """One default limit.

    `value` is in `unit` (SI); `written` is the value as the source says it; `standing` says
    whether the source was read, is recalled, or whether the value is common practice.
    """

    name: str
    kind: Kind
    value: float
    unit: str
    written: str
    governs: str
    source: str
    standing: Standing

    @property
    def example(self) -> str:
        """How a value of this kind may be written in a site file."""
        return _KINDS[self.kind][2]

    @property
    def bounds(self) -> str:
        """From where its values go, in words.

        Examples
        --------
        >>> [RULES[name].bounds for name in ("near_foundation", "stone_voids", "station_spacing")]
        ['of zero or more', 'above zero', 'of at least 1 in']
        """
        least = _LEAST.get(self.name)
        if least is not None:
            return f"of at least {least}"
        return "above zero" if self.name in _ABOVE_ZERO else "of zero or more"


def parse_value(rule: Rule, written: str | float) -> float:
    """Read a value for a rule by the rule's kind; SI.

    Raises
    ------
    QuantityError
        Where it is not a quantity of that kind, or is less than the rule may be.

    Examples
    --------
    >>> round(parse_value(RULES["near_foundation"], "6 ft"), 4)
    1.8288
    """
    value = _read(rule.kind, written)
    if not _is_enough(rule, value):
        raise QuantityError(written, rule.kind, f"this rule is {rule.bounds.removeprefix('of ')}")
    return value


def _is_enough(rule: Rule, value: float) -> bool:
    """Whether a value, finite and not negative, is one that the rule may have."""
    if rule.name in _LEAST:
        return value >= _read(rule.kind, _LEAST[rule.name]) * (1.0 - 1e-9)
    return value > 0.0 or rule.name not in _ABOVE_ZERO


def _read(kind: Kind, written: str | float) -> float:
    value = _KINDS[kind][1](written)
    if value < 0:
        raise QuantityError(written, kind, "a rule is not negative")
    return value


def _rule(
    name: str, kind: Kind, written: str, governs: str, source: str, standing: Standing
) -> Rule:
    value, unit = _read(kind, written), _KINDS[kind][0]
    return Rule(name, kind, value, unit, written, governs, source, standing)


IRC_GRADE = "International Residential Code (2006) R401.3"
ILLINOIS = "runoff coefficients of the University of Illinois"
TR55 = "US Soil Conservation Service, TR-55 (1986), table 2-2a"
OWN = "chosen for this tool; no published limit known"
PRACTICE = "the trade's usual figure"
CHICAGO = "Chicago plumbing code 18-29-"
WINCHESTER = "drainage table of Winchester, Indiana"
MINNESOTA = "Minnesota stormwater manual"
NEW_JERSEY = "New Jersey BMP Manual 9.3 (2016)"
RAWLS = "Rawls, Brakensiek & Saxton 1982"
GRASS = "SCS-TP-61 as Winchester, Indiana, prints it, erodible soil"
GRASS_RESISTANT = "SCS-TP-61 as Winchester, Indiana, prints it, resistant soil"
BUCKINGHAMSHIRE = "Buckinghamshire guidance"
OSHA = "29 CFR 1926.651 and .652, read second hand"

# fmt: off
_ROWS: tuple[tuple[str, Kind, str, str, str, Standing], ...] = (
    ("near_foundation", "length", "5 ft",
     "how close to a foundation water is reported as near it, and may not be let go or come back",
     "chosen for this tool, after International Residential Code R801.3, which asks for it on "
     "expansive or collapsible soil only (recalled)", "common practice"),
    ("along_foundation", "length", "5 ft",
     "how much longer than straight out water may run within near_foundation of a wall", OWN,
     "common practice"),
    ("foundation_reach", "length", "10 ft",
     "how far from a foundation the ground and standing water are judged", IRC_GRADE, "read"),
    ("storm_depth", "length", "4 in",
     "depth of the storm that ponding is judged by, where no [rain] is given (10-year, 24-hour)",
     PRACTICE, "common practice"),
    ("storm_duration", "duration", "1 h", "how long a drain works at its capacity during the storm",
     PRACTICE, "common practice"),
    ("greater_storm", "ratio", "1.5",
     "depth of the greater storm, times the ponding storm's, that ground left as it is must bear",
     OWN, "common practice"),
    ("ponding_return_years", "count", "10",
     "return period of the ponding storm, read from a rain table", PRACTICE, "common practice"),
    ("ponding_rain_duration", "duration", "24 h",
     "duration of the ponding storm, read from a rain table", PRACTICE, "common practice"),
    ("drainage_return_years", "count", "10", "return period for gutters, leaders and lines",
     PRACTICE, "common practice"),
    ("drainage_rain_duration", "duration", "5 min",
     "duration of the rain for gutters, leaders and lines", PRACTICE, "common practice"),
    ("drainage_intensity", "intensity", "8 in/h",
     "intensity for gutters, leaders and lines, where no [rain] table or intensity is given",
     "old copper-flashing manual, which sizes leaders on it", "read"),
    ("runoff_coefficient_roof", "share", "0.95", "share of the rain that runs off a roof",
     "upper end of 0.75 to 0.95 in general tables", "recalled"),
    ("runoff_coefficient_paving", "share", "0.9",
     "share of a hard rain that runs off paving at its peak, for flows",
     "within University of Illinois asphalt 0.70-0.95, concrete 0.80-0.95", "common practice"),
    ("curve_number_lawn_good_a", "curve number", "39",
     "lawn on soil group A, grass on over 75 % of it", TR55, "read"),
    ("curve_number_lawn_good_b", "curve number", "61",
     "lawn on soil group B, grass on over 75 % of it", TR55, "read"),
    ("curve_number_lawn_good_c", "curve number", "74",
     "lawn on soil group C, grass on over 75 % of it", TR55, "read"),
    ("curve_number_lawn_good_d", "curve number", "80",
     "lawn on soil group D, grass on over 75 % of it", TR55, "read"),
    ("curve_number_lawn_fair_a", "curve number", "49",
     "lawn on soil group A, grass on 50 to 75 % of it", TR55, "read"),
    ("curve_number_lawn_fair_b", "curve number", "69",
     "lawn on soil group B, grass on 50 to 75 % of it", TR55, "read"),
    ("curve_number_lawn_fair_c", "curve number", "79",
     "lawn on soil group C, grass on 50 to 75 % of it", TR55, "read"),
    ("curve_number_lawn_fair_d", "curve number", "84",
     "lawn on soil group D, grass on 50 to 75 % of it", TR55, "read"),
    ("curve_number_lawn_poor_a", "curve number", "68",
     "lawn on soil group A, grass on less than 50 % of it", TR55, "read"),
    ("curve_number_lawn_poor_b", "curve number", "79",
     "lawn on soil group B, grass on less than 50 % of it", TR55, "read"),
    ("curve_number_lawn_poor_c", "curve number", "86",
     "lawn on soil group C, grass on less than 50 % of it", TR55, "read"),
    ("curve_number_lawn_poor_d", "curve number", "89",
     "lawn on soil group D, grass on less than 50 % of it", TR55, "read"),
    ("curve_number_paving", "curve number", "98",
     "paving: of a storm's depth nearly all runs off", TR55, "read"),
    ("runoff_coefficient_lawn_sand_flat", "share", "0.10",
     "share of a hard rain that runs off lawn on sand at its peak, below lawn_slope_average",
     ILLINOIS, "read"),
    ("runoff_coefficient_lawn_sand_average", "share", "0.15",
     "the same on sand, between the two lawn slopes", ILLINOIS, "read"),
    ("runoff_coefficient_lawn_sand_steep", "share", "0.20",
     "the same on sand, above lawn_slope_steep", ILLINOIS, "read"),
    ("runoff_coefficient_lawn_clay_flat", "share", "0.17",
     "share of a hard rain that runs off lawn on clay at its peak, below lawn_slope_average",
     ILLINOIS, "read"),
    ("runoff_coefficient_lawn_clay_average", "share", "0.22",
     "the same on clay, between the two lawn slopes", ILLINOIS, "read"),
    ("runoff_coefficient_lawn_clay_steep", "share", "0.35",
     "the same on clay, above lawn_slope_steep", ILLINOIS, "read"),
    ("lawn_slope_average", "slope", "2 %", "slope from which a lawn is no longer flat", ILLINOIS,
     "read"),
    ("lawn_slope_steep", "slope", "7 %", "slope above which a lawn is steep", ILLINOIS, "read"),
    ("height_sigma_laser_level", "length", "3 mm",
     "standard deviation of one height by laser level", PRACTICE, "common practice"),
    ("height_sigma_builders_level", "length", "3 mm",
     "standard deviation of one height by builder's level and rod", PRACTICE, "common practice"),
    ("height_sigma_water_level", "length", "3 mm",
     "standard deviation of one height by water level", PRACTICE, "common practice"),
    ("height_sigma_string_level", "length", "1/2 in",
     "standard deviation of one height by string level and tape", PRACTICE, "common practice"),
    ("height_sigma_lidar", "length", "10 cm",
     "standard deviation of a height in a bare-earth lidar tile",
     "US national lidar quality level 2, vertical RMSE", "recalled"),
    ("low_spot_questioned", "length", "5 ft",
     "depth from which a low spot is asked about, not told as ground", OWN, "common practice"),
    ("height_off_ground", "length", "15 ft",
     "how far a height may stand off all heights around it, or a sill, rim or floor off the ground "
     "before it, and still be taken for one", OWN, "common practice"),
    ("downspout_off_house", "length", "50 ft",
     "how far from any building a downspout is taken for one", OWN, "common practice"),
    ("outlet_off_lot", "length", "500 ft",
     "how far off the lot and its buildings an outlet is taken for one of theirs", OWN,
     "common practice"),
    ("lidar_cell_limit", "length", "2 m",
     "cell size above which nothing is said on grade from elevation data", OWN, "common practice"),
    ("survey_reach", "length", "45 ft",
     "how far apart heights may stand and still tell the ground between them", OWN,
     "common practice"),
    ("survey_reach_at_wall", "length", "20 ft",
     "how far beyond the heights before it a wall still has ground that they tell", OWN,
     "common practice"),
    ("shot_at_wall", "length", "2 in",
     "how near to a corner or wall a spot height belongs to it, as rod and tape go", OWN,
     "common practice"),
    ("own_shot_reach", "length", "15 ft",
     "how far a spot height gives the ground around it, where elevation data is given too", OWN,
     "common practice"),
    ("own_shot_blend", "length", "30 ft",
     "over how much more what spot heights and elevation data differ by is blended out", OWN,
     "common practice"),
    ("level_misclosure", "length", "12 mm",
     "misclosure allowed in a level run, times the square root of its kilometers",
     "third-order levelling", "read"),
    ("level_per_reading", "length", "3 mm",
     "misclosure allowed in a level run, times the square root of its readings, where that is more",
     PRACTICE, "common practice"),
    ("tape_misfit", "length", "2 in",
     "what tape ties and the runs of an outline may miss by as taping", OWN, "common practice"),
    ("outline_misclosure", "share", "0.2 %",
     "what the runs of an outline may miss by, by their whole length, where that is more",
     OWN, "common practice"),
    ("soil_grade", "slope", "6 in in 10 ft",
     "fall of soil away from a foundation; where climate or soil permits, 2 % may be allowed "
     "(exception of 1804.3: ask the building department)",
     f"{IRC_GRADE}; International Building Code (2012) 1804.3, 1 in 20", "read"),
    ("soil_grade_to_drain", "slope", "5 %",
     "fall toward a swale or drain where foundation_reach is not there",
     f"{IRC_GRADE}, exception", "read"),
    ("cut_short_fall", "length", "6 in",
     "fall within what there is, where foundation_reach is not there", IRC_GRADE, "read"),
    ("paving_grade", "slope", "2 %", "fall of paving away from a foundation", IRC_GRADE, "read"),
    ("swale_grade", "slope", "2 %", "fall along a swale within foundation_reach", IRC_GRADE,
     "read"),
    ("swale_grade_beyond", "slope", "1 %", "fall along a swale beyond foundation_reach",
     "code of Willard, Ohio", "read"),
    ("swale_wall_distance", "length", "3 ft",
     "least distance of a swale's center line from a wall, where near_foundation is not there", OWN,
     "common practice"),
    ("swale_bottom_width", "length", "1 ft", "bottom width of a swale", PRACTICE,
     "common practice"),
    ("swale_side_run", "ratio", "3", "run over rise of a swale's sides, flat enough to mow",
     PRACTICE, "common practice"),
    ("swale_freeboard", "length", "3 in", "bank left above the water of a swale", PRACTICE,
     "common practice"),
    ("swale_least_depth", "length", "6 in", "least depth of a swale, freeboard included", PRACTICE,
     "common practice"),
    ("swale_greatest_cut", "length", "2 ft", "deepest cut for a swale on a lot", PRACTICE,
     "common practice"),
    ("rise_against_wall", "length", "1 in",
     "rise above the low point near a wall from which ground slopes back", OWN, "common practice"),
    ("soil_bulking", "ratio", "1.25", "loose soil as bought, times its volume compacted in place",
     PRACTICE, "common practice"),
    ("soil_settlement", "ratio", "0.10",
     "depth that hand-tamped soil loses as it settles, a share of its depth as placed; the code "
     "asks for an allowance (International Building Code 2012, 1804.3) and gives no figure",
     PRACTICE, "common practice"),
    ("soil_grade_most", "slope", "10 %", "steepest grade of soil placed at a wall",
     "Carroll County MD grading requirements, within 20 ft", "read"),
    ("station_spacing", "length", "0.3 m", "greatest distance between stations along a wall", OWN,
     "common practice"),
    ("foundation_above_grade", "length", "6 in", "foundation left showing above the ground",
     "International Residential Code R404.1.6", "read"),
    ("foundation_above_grade_veneer", "length", "4 in", "foundation left showing at masonry veneer",
     "International Residential Code R404.1.6", "read"),
    ("siding_clearance", "length", "6 in", "wood siding above the ground",
     "International Residential Code R317.1(5)", "read"),
    ("siding_clearance_paving", "length", "2 in", "wood siding above slabs",
     "International Residential Code R317.1(5)", "read"),
    ("wood_clearance", "length", "8 in", "wood on a foundation wall above the ground",
     "International Residential Code R317.1", "read"),
    ("discharge_grade", "slope", "1 %",
     "least fall of the ground onward from where water is let go", PRACTICE, "common practice"),
    ("discharge_grade_length", "length", "10 ft", "how far onward that fall is asked for", OWN,
     "common practice"),
    ("pond_foundation_distance", "length", "10 ft",
     "how far the pond of a low spot that takes water stays from a foundation",
     f"after the 10 ft of {IRC_GRADE}", "common practice"),
    ("leader_fill", "ratio", "7/24", "share of a leader's section that water fills",
     "National Standard Plumbing Code (2006) table 13.6", "read"),
    ("leader_diameter", "length", "3 in",
     "diameter of a round leader, where a downspout's is not given", PRACTICE, "common practice"),
    ("gutter_design_share", "share", "0.9",
     "share of a gutter's nominal capacity that is counted on", "EN 12056-3", "recalled"),
    ("gutter_fall", "slope", "1 in per 15 ft", "fall of a gutter toward its outlet",
     "code of Norton, Ohio", "read"),
    ("gutter_run_fall", "slope", "1/2 in per 10 ft", "fall that a gutter run is hung to", PRACTICE,
     "common practice"),
    ("gutter_overhang", "length", "1/2 in", "gutter past the shingles at each end of a run",
     PRACTICE, "common practice"),
    ("gutter_lap", "length", "3 in", "lap of one piece of gutter in the next", PRACTICE,
     "common practice"),
    ("gutter_hanger_spacing", "length", "2 ft", "greatest distance between gutter hangers",
     PRACTICE, "common practice"),
    ("extension_length", "length", "20 ft", "longest extension on the surface", OWN,
     "common practice"),
    ("leader_outlet_height", "length", "6 in",
     "greatest height of a leader's end over the ground at its foot, where an extension starts",
     PRACTICE, "common practice"),
    ("extension_width", "length", "5 in",
     "width of an extension, with its couplings: by half of it it clears corners and walks",
     PRACTICE, "common practice"),
    ("extension_door_distance", "length", "3 ft",
     "landing before a door that no extension lies across",
     "International Residential Code R311.3", "recalled"),
    ("extension_support_from", "length", "1 in",
     "air under an extension from which it is propped on blocks", PRACTICE, "common practice"),
    ("extension_support_height", "length", "8 in",
     "most air under an extension: what one concrete block on its side and a shim prop", PRACTICE,
     "common practice"),
    ("extension_support_spacing", "length", "4 ft", "greatest distance between its props",
     PRACTICE, "common practice"),
    ("extension_slope", "slope", "1 %", "least fall of an extension over its length", PRACTICE,
     "common practice"),
    ("extension_walk_distance", "length", "3 ft",
     "end of an extension from a walk or drive, where its water would freeze", PRACTICE,
     "common practice"),
    ("extension_walk_run", "length", "10 ft",
     "how far the water of an extension runs before it may cross a walk or drive", OWN,
     "common practice"),
    ("extension_lot_line_distance", "length", "5 ft",
     "end of an extension from a lot line, save along a street or alley", PRACTICE,
     "common practice"),
    ("extension_apron_flow", "flow", "50 gpm",
     "design flow above which an extension ends on a stone apron, not on a splash pad", OWN,
     "common practice"),
    ("line_cover", "length", "12 in", "least soil over a buried line that carries no load",
     PRACTICE, "common practice"),
    ("line_cover_district", "length", "18 in",
     "soil over a line outside drives that some districts ask for, told where there is less",
     "standard of a sanitary district", "read"),
    ("line_cover_private_drive", "length", "24 in", "least soil over a line under a private drive",
     "standard of a sanitary district", "read"),
    ("line_cover_public_drive", "length", "36 in",
     "least soil over a line under a public or unpaved drive", "standard of a sanitary district",
     "read"),
    ("line_size", "length", "4 in", "least nominal size of a buried line, where none is chosen",
     "single-family plan of a US county (2010), 4 to 6 in", "read"),
    ("line_slope", "slope", "1 %", "least slope of a buried line", f"{CHICAGO}1106.3", "read"),
    ("line_depth", "length", "1 ft",
     "least depth of a drain of pipe not approved under buildings (corrugated, or not known)",
     "California Plumbing Code 718.3", "read"),
    ("line_building_distance", "length", "2 ft",
     "least distance from a building of such pipe", "California Plumbing Code 718.3", "read"),
    ("line_building_distance_approved", "length", "1 ft",
     "least distance from a building of pipe approved under buildings (smooth), room to dig in",
     OWN, "common practice"),
    ("line_walk_distance", "length", "3 ft",
     "end of a line from a walk, drive or patio, where its water would freeze", OWN,
     "common practice"),
    ("line_lot_line_distance", "length", "5 ft",
     "end of a line from a neighbor's side of the lot", OWN, "common practice"),
    ("footing_depth_assumed", "length", "12 in",
     "footing's bottom below the ground at the wall, where it is not known",
     "International Residential Code R403.1.4, least depth", "recalled"),
    ("hand_digging_depth", "length", "5 ft", "trench depth above which no one digs by hand", OWN,
     "common practice"),
    ("self_cleaning_velocity", "velocity", "2 ft/s", "velocity that keeps a line clean",
     "ASPE Data Book 2; NAVEDTRA 14259", "read"),
    ("roughness_pvc", "roughness", "0.010", "Manning's n of PVC and other smooth plastic pipe",
     f"{WINCHESTER}; Austin table 5-2", "read"),
    ("roughness_hdpe", "roughness", "0.011", "Manning's n of smooth-walled HDPE pipe", WINCHESTER,
     "read"),
    ("roughness_concrete", "roughness", "0.013", "Manning's n of concrete pipe", WINCHESTER,
     "read"),
    ("roughness_corrugated_metal", "roughness", "0.024", "Manning's n of corrugated metal pipe",
     WINCHESTER, "read"),
    ("roughness_corrugated_plastic", "roughness", "0.022",
     "Manning's n of plastic pipe with a corrugated inside, and of a wall not known",
     "Caltrans Highway Design Manual 851.2, recommended within 0.020 to 0.025", "read"),
    ("trench_width_addition", "length", "16 in",
     "trench wider than the pipe's outside, the greater of this and the next two",
     "ASTM D2321-05, read second hand", "read"),
    ("trench_width_factor", "ratio", "1.25",
     "times the pipe's outside diameter, plus trench_width_margin",
     "ASTM D2321-05, read second hand", "read"),
    ("trench_width_margin", "length", "12 in",
     "added to trench_width_factor times the outside diameter", "ASTM D2321-05, read second hand",
     "read"),
    ("bedding_depth", "length", "4 in", "least bedding under a pipe", "ASTM D2321", "recalled"),
    ("cleanout_spacing", "length", "100 ft",
     "greatest distance between cleanouts of a line outside a building", f"{CHICAGO}708.3.2",
     "read"),
    ("cleanout_bend", "slope", "45 degrees", "bend above which a cleanout is set",
     f"{CHICAGO}708.3", "read"),
    ("cleanout_bend_spacing", "length", "40 ft", "one cleanout for bends within this length",
     f"{CHICAGO}708.3", "read"),
    ("footing_line", "slope", "45 degrees",
     "line down from a footing's bottom edge below which nothing is dug",
     "International Plumbing Code 307.5", "recalled"),
    ("pit_foundation_distance", "length", "10 ft", "seepage pit from a foundation", MINNESOTA,
     "read"),
    ("pit_basement_distance", "length", "5 m", "seepage pit from a basement",
     "after Approved Document H, which asks it of any building", "common practice"),
    ("pit_foundation_distance_metric", "length", "5 m",
     "seepage pit from any building, on metric sites", "Approved Document H", "read"),
    ("pit_lot_line_distance", "length", "10 ft", "seepage pit from a lot line", MINNESOTA, "read"),
    ("pit_lot_line_distance_metric", "length", "5 m",
     "seepage pit from a lot line or road, on metric sites", BUCKINGHAMSHIRE, "read"),
    ("pit_well_distance", "length", "50 ft", "seepage pit from a supply well", MINNESOTA, "read"),
    ("pit_septic_distance", "length", "35 ft", "seepage pit from a septic system", MINNESOTA,
     "read"),
    ("pit_groundwater_clearance", "length", "3 ft", "bottom of a seepage pit above saturated soil",
     MINNESOTA, "read"),
    ("pit_bedrock_clearance", "length", "3 ft", "bottom of a seepage pit above bedrock", MINNESOTA,
     "read"),
    ("pit_road_distance", "length", "5 m", "seepage pit from a road drawn as a keep-out",
     BUCKINGHAMSHIRE, "read"),
    ("pit_water_service_distance", "length", "10 ft", "seepage pit from a water service pipe",
     PRACTICE, "common practice"),
    ("pit_greatest_slope", "slope", "20 %", "steepest ground for a seepage pit",
     "single-family plan of a US county (2010)", "read"),
    ("pit_bank_distance", "length", "10 ft",
     "seepage pit from a retaining wall and from ground steeper than pit_greatest_slope", PRACTICE,
     "common practice"),
    ("pit_retained_height", "length", "2 ft",
     "step in the ground from which a surveyed wall counts as a retaining wall", PRACTICE,
     "common practice"),
    ("pit_bank_distance_metric", "length", "5 m",
     "the same from a retaining wall, on metric sites", BUCKINGHAMSHIRE, "read"),
    ("pit_pit_distance", "length", "10 ft", "seepage pit from another one", PRACTICE,
     "common practice"),
    ("pit_pit_distance_metric", "length", "10 m", "seepage pit from another one, on metric sites",
     BUCKINGHAMSHIRE, "read"),
    ("pit_greatest_dig", "length", "4 ft 6 in", "greatest depth to which a seepage pit is dug",
     "kept below trench_protection_depth", "common practice"),
    ("pit_least_depth", "length", "1 ft", "least depth of a seepage pit below its inlet", PRACTICE,
     "common practice"),
    ("pit_trench_width", "length", "3 ft", "width of a seepage pit that is dug as a trench",
     PRACTICE, "common practice"),
    ("pit_stone_over_inlet", "length", "2 in", "stone over the top of the pipe into a seepage pit",
     PRACTICE, "common practice"),
    ("pit_soil_over_stone", "length", "6 in", "least soil over a seepage pit's stone", PRACTICE,
     "common practice"),
    ("pit_fabric_lap", "share", "10 %", "fabric added for its laps", PRACTICE, "common practice"),
    ("chamber_voids", "share", "60 %",
     "voids of a chamber with the stone around it, until its maker's figure replaces it", PRACTICE,
     "common practice"),
    ("pit_safety_factor", "ratio", "2", "tested rate over design rate", NEW_JERSEY, "read"),
    ("pit_drain_time", "duration", "72 h", "time in which a pit that holds a whole storm drains",
     NEW_JERSEY, "read"),
    ("pit_half_empty_time", "duration", "24 h", "time in which a pit is half empty",
     "BRE Digest 365", "read"),
    ("pit_least_rate", "intensity", "0.000001 m/s", "measured rate below which a pit is refused",
     BUCKINGHAMSHIRE, "read"),
    ("pit_slow_rate", "intensity", "0.5 in/h",
     "least design rate, after the factor of safety; below it a pit is warned of", NEW_JERSEY,
     "read"),
    ("pit_greatest_rate", "intensity", "10 in/h", "greatest design rate", NEW_JERSEY, "read"),
    ("trial_pit_fillings", "count", "3", "how often a trial pit is filled, the slowest counting",
     "BRE Digest 365", "read"),
    ("percolation_steady_readings", "count", "3",
     "how many falls in a row must agree before a percolation test counts as steady", PRACTICE,
     "common practice"),
    ("soil_test_agreement", "share", "10 %",
     "within which rates of a percolation test agree, and by which a filling of a trial pit may be "
     "slower than the one before", PRACTICE, "common practice"),
    ("stone_voids", "share", "40 %", "voids in clean stone", PRACTICE, "common practice"),
    ("stone_weight", "ratio", "1.4", "short tons in a cubic yard of clean stone, as delivered",
     PRACTICE, "common practice"),
    ("soil_rate_sand", "intensity", "8.27 in/h", "infiltration rate of sand", RAWLS, "recalled"),
    ("soil_rate_loamy_sand", "intensity", "2.41 in/h", "infiltration rate of loamy sand", RAWLS,
     "recalled"),
    ("soil_rate_sandy_loam", "intensity", "1.02 in/h", "infiltration rate of sandy loam", RAWLS,
     "recalled"),
    ("soil_rate_loam", "intensity", "0.52 in/h", "infiltration rate of loam", RAWLS, "recalled"),
    ("soil_rate_silt_loam", "intensity", "0.27 in/h", "infiltration rate of silt loam", RAWLS,
     "recalled"),
    ("soil_rate_sandy_clay_loam", "intensity", "0.17 in/h", "infiltration rate of sandy clay loam",
     RAWLS, "recalled"),
    ("soil_rate_clay_loam", "intensity", "0.09 in/h", "infiltration rate of clay loam", RAWLS,
     "recalled"),
    ("soil_rate_silty_clay_loam", "intensity", "0.06 in/h", "infiltration rate of silty clay loam",
     RAWLS, "recalled"),
    ("soil_rate_sandy_clay", "intensity", "0.05 in/h", "infiltration rate of sandy clay", RAWLS,
     "recalled"),
    ("soil_rate_silty_clay", "intensity", "0.04 in/h", "infiltration rate of silty clay", RAWLS,
     "recalled"),
    ("soil_rate_clay", "intensity", "0.02 in/h", "infiltration rate of clay", RAWLS, "recalled"),
    ("riprap_tailwater", "share", "0.4",
     "tailwater at a pipe outlet where not known, of the pipe's diameter",
     "FHWA HEC-14, equation 10.4", "read"),
    ("apron_flare", "ratio", "3",
     "length of an apron in which each of its sides widens by one", "FHWA HEC-14", "recalled"),
    ("apron_stone", "length", "2 in", "least size of the stone of an apron", PRACTICE,
     "common practice"),
    ("swale_velocity_to_5_percent", "velocity", "4 ft/s",
     "greatest velocity in a swale of mixed grass, to 5 %", GRASS, "read"),
    ("swale_velocity_to_5_percent_resistant", "velocity", "5 ft/s",
     "the same on soil that resists erosion", GRASS_RESISTANT, "read"),
    ("swale_velocity_to_10_percent", "velocity", "3 ft/s",
     "the same of mixed grass, above 5 % to 10 %", GRASS, "read"),
    ("swale_velocity_to_10_percent_resistant", "velocity", "4 ft/s",
     "the same on soil that resists erosion", GRASS_RESISTANT, "read"),
    ("bluegrass_velocity_to_5_percent", "velocity", "5 ft/s",
     "greatest velocity in a swale of bluegrass, to 5 %", GRASS, "read"),
    ("bluegrass_velocity_to_10_percent", "velocity", "4 ft/s",
     "the same, above 5 % to 10 %", GRASS, "read"),
    ("bluegrass_velocity_over_10_percent", "velocity", "3 ft/s", "the same, above 10 %", GRASS,
     "read"),
    ("bluegrass_velocity_to_5_percent_resistant", "velocity", "7 ft/s",
     "greatest velocity in a swale of bluegrass on soil that resists erosion, to 5 %",
     GRASS_RESISTANT, "read"),
    ("bluegrass_velocity_to_10_percent_resistant", "velocity", "6 ft/s",
     "the same, above 5 % to 10 %", GRASS_RESISTANT, "read"),
    ("bluegrass_velocity_over_10_percent_resistant", "velocity", "5 ft/s", "the same, above 10 %",
     GRASS_RESISTANT, "read"),
    ("bare_velocity_sandy", "velocity", "1.5 ft/s",
     "greatest velocity on bare sand, silt, sandy or silty loam (of berms that intercept runoff)",
     MINNESOTA, "read"),
    ("bare_velocity_sandy_clay", "velocity", "2.0 ft/s", "greatest velocity on bare sandy clay",
     MINNESOTA, "read"),
    ("bare_velocity_clay", "velocity", "2.5 ft/s", "greatest velocity on bare clay", MINNESOTA,
     "read"),
    ("roughness_grass_swale", "roughness", "0.09",
     "Manning's n of shallow water over grass let grow, for a swale's depth",
     "published table of lawn at shallow depth, 4 to 6 in high, 2 ft/s", "read"),
    ("roughness_short_grass", "roughness", "0.07",
     "Manning's n of shallow water over mown grass, for a swale's velocity",
     "published table of lawn at shallow depth, mown to 2 in, 2 ft/s", "read"),
    ("trench_protection_depth", "length", "5 ft", "trench depth from which protection is required",
     OSHA, "read"),
    ("trench_exit_depth", "length", "4 ft", "trench depth from which a way out is required", OSHA,
     "read"),
    ("trench_exit_distance", "length", "25 ft", "greatest way to that exit", OSHA, "read"),
    ("spoil_distance", "length", "2 ft", "spoil back from a trench's edge", OSHA, "read"),
)
# fmt: on

RULES: dict[str, Rule] = {row[0]: _rule(*row) for row in _ROWS}

# Nothing can be built, carried or shared out where one of these is nothing.
_ABOVE_ZERO = frozenset(
    {rule.name for rule in RULES.values() if rule.kind in ("roughness", "curve number")}
    | {
        *("storm_depth", "storm_duration", "greater_storm", "survey_reach", "own_shot_blend"),
        *("ponding_return_years", "ponding_rain_duration"),
        *("drainage_return_years", "drainage_rain_duration", "drainage_intensity"),
        *("runoff_coefficient_roof", "leader_diameter", "leader_fill", "gutter_design_share"),
        *("gutter_hanger_spacing", "extension_support_spacing", "line_size"),
        *("swale_greatest_cut", "swale_grade", "swale_grade_beyond"),
        *("pit_trench_width", "pit_greatest_rate", "pit_safety_factor", "pit_half_empty_time"),
        *("pit_drain_time", "stone_voids", "chamber_voids", "riprap_tailwater", "apron_flare"),
        *("trial_pit_fillings", "percolation_steady_readings"),
    }
)
# Finer than these a lot would be measured, or a line be opened, thousands of times over.
_LEAST = {"station_spacing": "1 in", "cleanout_spacing": "1 ft"}


@dataclass(frozen=True)
class Rules:
    """The limits in force on one lot: the table, with whatever the site file overrides.

    Examples
    --------
    >>> rules = Rules().with_overrides({"near_foundation": 2.0})
    >>> rules["near_foundation"], rules.overridden
    (2.0, ('near_foundation',))
    """

    overrides: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name, value in self.overrides.items():
            rule = self.rule(name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueError(f"{name}: a rule is a finite number and not negative: {value!r}")
            if not _is_enough(rule, value):
                raise ValueError(f"{name}: this rule is {rule.bounds}, in SI: {value!r}")
        object.__setattr__(self, "overrides", dict(self.overrides))

    def __getitem__(self, name: str) -> float:
        """The SI value in force; `KeyError` names the nearest rules where there is none."""
        rule = self.rule(name)
        return self.overrides.get(name, rule.value)

    def rule(self, name: str) -> Rule:
        """The table's own row, whether it is overridden or not.

        Raises
        ------
        KeyError
            Where there is no such rule; it names the nearest.
        """
        if name not in RULES:
            near = get_close_matches(name, RULES, n=3)
            hint = f"; the nearest are {', '.join(near)}" if near else ""
            raise KeyError(f'there is no rule "{name}"{hint}')
        return RULES[name]

    @property
    def overridden(self) -> tuple[str, ...]:
        """The names of the overridden rules, in the order of the table."""
        return tuple(name for name in RULES if name in self.overrides)

    def with_overrides(self, values: Mapping[str, float]) -> Rules:
        """These rules with further SI values by name.

        Raises
        ------
        KeyError
            Where there is no such rule.
        ValueError
            Where a value is negative, not finite or less than the rule may be.
        """
        return Rules({**self.overrides, **values})

    def parse_override(self, name: str, written: str | float) -> float:
        """Read what a site file's ``[rules]`` says for a rule; SI.

        Raises
        ------
        KeyError
            Where there is no such rule.
        QuantityError
            Where the value is not of the rule's kind.

        Examples
        --------
        >>> Rules().parse_override("soil_grade", "4 %")
        0.04
        """
        return parse_value(self.rule(name), written)


def rules_table() -> str:
    """Write the table in Markdown, a row a rule.

    Examples
    --------
    >>> print(rules_table().splitlines()[0])
    | rule | value | in SI | governs | source | standing |
    """
    lines = ["| rule | value | in SI | governs | source | standing |", "|---|---|---|---|---|---|"]
    for rule in RULES.values():
        si = f"{rule.value:.4g}" + ("" if rule.unit == "1" else f" {rule.unit}")
        cells = (f"`{rule.name}`", rule.written, si, rule.governs, rule.source, rule.standing)
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"
