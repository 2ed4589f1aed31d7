"""A small invented lot of coarse cells, planned in seconds: for tests that plan it many times."""

from pathlib import Path

SITE = """[site]
name = "Small lot (invented)"
units = "ft"
[terrain]
spot_heights = "spots.csv"
cell_size = "1.5 ft"
heights_by = "laser level"
[[building]]
name = "house"
corners = [[0, 0], [20, 0], [20, 16], [0, 16]]
kind = "basement"
footing_depth = "7 ft"
[[opening]]
name = "well"
kind = "window well"
at = { building = "house", wall = 4, distance = "8 ft" }
width = "3 ft"
projection = "2 ft"
rim = 99.6
floor = 96.5
[lot]
corners = [[-14, -24], [34, -24], [34, 30], [-14, 30]]
sides = [
    { name = "front", neighbor = "street" },
    { name = "right", neighbor = "neighbor" },
    { name = "rear", neighbor = "open ground" },
    { name = "left", neighbor = "neighbor" },
]
[[paving]]
name = "drive"
kind = "drive"
corners = [[24, -24], [32, -24], [32, 10], [24, 10]]
[[outlet]]
name = "street gutter"
kind = "street gutter"
line = [[-14, -24], [34, -24]]
permission = "yard water may run to the gutter"
[[roof]]
name = "roof"
length = "20 ft"
width = "16 ft"
pitch = "6:12"
[[gutter]]
name = "gutter"
roof = "roof"
shape = "ogee"
size = "5 in"
[[downspout]]
name = "D"
at = { building = "house", wall = 3, distance = "1 ft", out = "4 in" }
size = "2 x 3 in"
roofs = ["roof"]
[soil]
texture = "sandy loam"
trial_pit = { length = "3 ft", width = "2 ft", depth = "2 ft", times = ["38 min", "46 min"] }
groundwater = "12 ft"
frost_depth = "30 in"
expansive = false
[pipe]
wall = "smooth"
[prices]
currency = "USD"
pipe = "3.20 per ft"
stone = "48 per cu yd"
"""


def spots() -> str:
    """A sheet of heights that fall from the house, with a hollow behind it."""
    rows = ["name,x,y,z,remark"]
    for x in (-14, -6, 0, 10, 20, 26, 34):
        for y in (-24, -12, -4, 0, 8, 16, 20, 30):
            if 0 < x < 20 and 0 < y < 16:
                continue
            out = max(-x, x - 20, -y, y - 16, 0)
            z = 99.5 - 0.02 * out - 0.015 * y - (0.3 if (x, y) == (10, 20) else 0)
            rows.append(f"p{len(rows)},{x},{y},{z:.2f},")
    return "\n".join(rows) + "\n"


def write_small_lot(folder: Path, more: str = "", site: str = SITE, sheet: str = "") -> Path:
    """Write its files, more tables behind the site file's own; the site file."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "spots.csv").write_text(sheet or spots(), encoding="utf-8")
    (folder / "site.toml").write_text(site + more, encoding="utf-8")
    return folder / "site.toml"
