"""A rich, invented lot in one site file, and small ways to change it."""

from pathlib import Path

from runoff.site import InputError, read_site

SPOTS = """name,x,y,z,remark
P1,-10,-20,99.5,
P2,50,-20,99' 6\",at the curb
P3,50,60,101.25,
P4,-10,60,"101 ft 3 in","high, near fence"
P5,0,-5,100,
P6,30,-5,100,
"""

# Invented figures of the order that the Middle West has.
RAIN = """duration,unit,2,10,25
5 min,in,0.45,0.6,0.70
60 min,in,1.34,1.97,2.38
24 h,in,2.90,4.10,4.95
"""

PERCOLATION = (
    'percolation = { fall = "1 in", time = "12 min", diameter = "8 in", first_depth = "6 in" }'
)

RICH = """\
# An invented lot.
[site]
name = "north lot"
units = "ft"
address = "1 Invented Lane"
date = 2026-05-01
observer = "A. Levelman"
weather = "dry for a week"
north = 15
notes = '''two
lines'''
benchmark = { name = "nail", height = 100, backsight = "4.35 ft" }

[terrain]
spot_heights = "spots.csv"
heights_by = "laser level"
cell_size = "1 ft"

[[break_line]]
name = "ridge"
through = ["P5", "P6"]

[[break_line]]
name = "curb"
points = [[-10, -15], [50, -15]]
top = 99.8
foot = [99.3, "99 ft 4 in"]
foot_side = "right"

[[break_line]]
name = "ledge"
through = ["P1", "P2"]
drop = "6 in"
foot_side = "right"

[[barrier]]
name = "edging"
points = [[-5, 40], [5, 40]]
height = "4 in"

[[drain]]
name = "culvert"
inlet = [40, 0]
outlet = [40, -18]
capacity = "50 gpm"

[[drain]]
name = "sewer inlet"
inlet = [45, 10]
outlet = "leaves the lot"

[[building]]
name = "house"
corners = [
    [0, 0],
    [30, 0], # front right
    [30, "24 ft"],
    [0, 24],
]
courtyards = [[[10, 10], [14, 10], [14, 14], [10, 14]]]
walls = ["front", "right", "rear", "left"]
kind = "basement"
footing_depth = "7 ft"
clearances = [
    { wall = "front", kind = "siding", height = 101.5 },
    { wall = 2, from = "3 ft", to = "9 ft", kind = "brick weeps", height = "101 ft 2 in" },
]

[[building]]
name = "garage"
corners = [[30, 0], [45, 0], [45, 20], [30, 20]]

[lot]
corners = [[-10, -20], [50, -20], [50, 60], [-10, 60]]
sides = [
    { name = "front", neighbor = "street" },
    { neighbor = "neighbor" },
    { neighbor = "alley" },
    { neighbor = "open ground" },
]

[[paving]]
name = "drive"
kind = "drive"
corners = [[32, -20], [42, -20], [42, 0], [32, 0]]

[[keep_out]]
name = "oak"
kind = "tree roots"
point = [-5, 50]
radius = 6
allowed = "hand digging"

[[keep_out]]
name = "sprinkler"
kind = "private line"
line = [[-8, -10], [-8, 50]]
width = "2 ft"

[[easement]]
name = "rear strip"
corners = [[-10, 55], [50, 55], [50, 60], [-10, 60]]
may_take_water = true

[[outlet]]
name = "gutter"
kind = "street gutter"
line = [[-10, -20], [50, -20]]
permission = "town, by letter"
invert = 98.5
water = "98 ft 9 in"

[[roof]]
name = "main"
length = "30 ft"
width = "24 ft"
pitch = "6:12"

[[roof]]
name = "garage roof"
plan_area = "300 sq ft"

[[roof]]
name = "porch"
corners = [[0, -6], [8, -6], [8, 0], [0, 0]]
pitch = 0.25

[[roof]]
name = "dormer"
plan_area = "40 sq ft"
onto = "main"

[[roof]]
name = "bay"
plan_area = "50 sq ft"
eave = { building = "house", wall = "left", from = "4 ft", to = "10 ft", out = "18 in" }

[[roof]]
name = "lean-to"
plan_area = "60 sq ft"
eave = [[30, 21], [45, 21]]
wall_above = "70 sq ft"

[[gutter]]
name = "rear gutter"
roof = "main"
shape = "half-round"
size = "5 in"
outlet_ends = "both ends"

[[gutter]]
name = "garage gutter"
roof = "garage roof"
shape = "ogee"
size = "6 in"
eave = "20 ft"
outlet = "3 in"

[[downspout]]
name = "NE"
at = { building = "house", wall = "rear", distance = "2 ft", out = "3 in" }
roofs = [{ roof = "main", share = 0.1 }, "porch"]

[[downspout]]
name = "SW"
at = { building = "house", wall = 4, distance = 24 }
roofs = [{ roof = "main", share = 0.2 }]

[[downspout]]
name = "garage"
at = [46, 20]
roofs = [
    { roof = "main", share = 0.7 },
    "garage roof",
]
size = "2 x 3 in"
route = [[48, 30], [48, "55 ft"]]

[[opening]]
name = "well A"
kind = "window well"
at = { building = "house", wall = "right", distance = "22 ft" }
width = "3 ft"
rim = 100.5
floor = "97 ft"
projection = "2 ft 6 in"
drained = true

[[opening]]
name = "big door"
kind = "garage door"
at = { building = "house", wall = "front", distance = 7.5 }
width = 9
sill = 100.25

[[sump]]
name = "sump"
outlet = [-3, -2]
rate = "20 gpm"

[rain]
storm_depth = "3.5 in"
storm_duration = "24 h"
design_intensity = "7 in/h"
table = "rain.csv"
line = { return_years = 25, duration = "10 min" }
pit = { return_years = 2 }
allowance = "pitch factor"

[soil]
texture = "loam"
percolation = { fall = "1 in", time = "12 min", diameter = "8 in", first_depth = "6 in" }
groundwater = "9 ft"
frost_depth = 3
expansive = false

[pipe]
wall = "smooth"
size = "4 in"

[prices]
currency = "USD"
pipe = "2.10 per ft"
fitting = "6 each"
stone = "45 per cu yd"
fabric = "0.30/sq ft"

[[photograph]]
file = "front.jpg"
caption = "from the street"

[rules]
near_foundation = "6 ft"
"""


def write_lot(
    folder: Path,
    text: str = RICH,
    spots: str | bytes | None = SPOTS,
    rain: str | bytes = RAIN,
) -> Path:
    """Write a site file, its spot heights, rain table and photograph; the site file's path."""
    (folder / "front.jpg").touch()
    (folder / "rain.csv").write_bytes(rain.encode() if isinstance(rain, str) else rain)
    if spots is not None:
        (folder / "spots.csv").write_bytes(spots.encode() if isinstance(spots, str) else spots)
    path = folder / "site.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return path


def changed(old: str, new: str, text: str = RICH) -> str:
    """The text with one passage, which it holds exactly once, replaced."""
    assert text.count(old) == 1, f"{text.count(old)} of {old!r}"
    return text.replace(old, new)


def line_of(passage: str, text: str = RICH) -> int:
    """The line, from 1, on which a passage that the text holds starts."""
    return text.count("\n", 0, text.index(passage)) + 1


def problems_of(path: Path) -> list:
    """The problems that a site file has."""
    try:
        read_site(path)
    except InputError as error:
        return list(error.problems)
    return []
