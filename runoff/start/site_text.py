"""The site file that answers make: TOML with a remark wherever something can be added.

In: the answers, and the points to take heights at. Out: text that `runoff.site.read_site` reads
once the heights are filled in.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from runoff.quantities import format_length, parse_length
from runoff.site.survey.field_points import CLOSE_M, SurveyPoint
from runoff.site.written.document import WELLS
from runoff.start.lot_answers import (
    BuildingAnswer,
    DownspoutAnswer,
    LineAnswer,
    OpeningAnswer,
    OutletAnswer,
    Place,
    RoofAnswer,
    WallPlace,
    buildings_of,
    side_names,
)

FOOT = 0.3048
SCHEMA_FILE = "site.schema.json"
SPOTS_FILE = "spots.csv"
LEVELS_FILE = "levels.csv"
TRIAL_PIT_FILE = "trial_pit.csv"
PERCOLATION_FILE = "percolation.csv"

_ROUNDING_M = 1e-6


def site_text(draft: Mapping[str, Any], points: Sequence[SurveyPoint]) -> str:
    """Write the site file.

    Parameters
    ----------
    draft : mapping
        The answers.
    points : sequence of SurveyPoint
        Points of the spot heights' sheet; swales run through those on their line.

    Returns
    -------
    str
    """
    write = _Writer(draft)
    blocks = [
        *_head(draft),
        *(write.building(building) for building in buildings_of(draft)),
        *(write.opening(opening) for opening in draft.get("openings", [])),
        *write.lot(),
        *(write.outlet(outlet) for outlet in draft.get("outlets", [])),
        *(
            write.paving(paving)
            for paving in (*draft.get("sidewalk", []), *draft.get("paving", []))
        ),
        *(_swale(swale, points) for swale in draft.get("swales", [])),
        *(write.roof(roof) for roof in draft.get("roofs", [])),
        *(write.downspout(downspout) for downspout in draft.get("downspouts", [])),
        *write.rain(),
        *_soil(draft),
    ]
    return "\n".join(blocks)


def quoted(text: str) -> str:
    """Text as TOML writes it.

    Examples
    --------
    >>> print(quoted('the "old" wall'))
    "the \\"old\\" wall"
    """
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def plain_figure(metres: float, units: str) -> str:
    """A length as a bare number in the file's units, to a tenth of a millimetre.

    Examples
    --------
    >>> plain_figure(10.9728, "ft"), plain_figure(-0.762, "ft"), plain_figure(-1e-9, "m")
    ('36', '-2.5', '0')
    """
    value = round(metres / FOOT if units == "ft" else metres, 4)
    # Adding zero takes the sign off a minus zero.
    return f"{value + 0.0:.4f}".rstrip("0").rstrip(".")


def _head(draft: Mapping[str, Any]) -> Iterator[str]:
    units = "feet" if draft.get("units", "ft") == "ft" else "meters"
    yield (
        f"#:schema ./{SCHEMA_FILE}\n"
        "# Made from answers; every line can be changed. What stands behind # is a remark.\n"
        '# Lengths are text in tape notation ("12 ft 6 in") or bare numbers in '
        f"{units}. The plan's\n"
        "# 0,0 is the front left corner of the house; x runs to the right and y to the back of the "
        "lot.\n"
        "\n[site]\n"
        f"name = {quoted(draft.get('name', 'My lot'))}\n"
        f"units = {quoted(draft.get('units', 'ft'))}\n"
        "# date = 2026-04-18 # the day on which heights were taken\n"
        '# observer = "who took the heights"\n'
        '# weather = "dry for four days before"\n'
        "# north = 0 # degrees clockwise from straight up on the plan\n"
    )
    yield (
        "[terrain]\n"
        f"spot_heights = {quoted(SPOTS_FILE)} # fill in z; rows without one are passed over\n"
        f"heights_by = {quoted(draft.get('heights', 'string level'))}\n"
        f"# levels = {quoted(LEVELS_FILE)} # without the first #, where readings stand there and "
        "not z\n"
    )


@dataclass(frozen=True)
class _Writer:
    """Writes tables in the units of the answers."""

    draft: Mapping[str, Any]

    @property
    def units(self) -> str:
        return str(self.draft.get("units", "ft"))

    def length(self, metres: float) -> str:
        """Tape notation where that says it exactly, else a bare number."""
        if self.units == "ft":
            text = format_length(metres)
            if abs(parse_length(text) - metres) < _ROUNDING_M:
                return quoted(text)
        return plain_figure(metres, self.units)

    def corners(self, corners: Iterable[Place]) -> str:
        pairs = (
            f"[{plain_figure(x, self.units)}, {plain_figure(y, self.units)}]" for x, y in corners
        )
        return f"[{', '.join(pairs)}]"

    def at(self, place: WallPlace, out: str = "") -> str:
        return (
            f"{{ building = {quoted(place.building)}, wall = {quoted(place.wall)}, "
            f"distance = {self.length(place.distance)}{out} }}"
        )

    def building(self, building: BuildingAnswer) -> str:
        lines = [
            "[[building]]",
            f"name = {quoted(building.name)}",
            f"corners = {self.corners(building.corners)}",
            f"walls = [{', '.join(map(quoted, building.walls))}]",
        ]
        if building.kind:
            lines.append(f"kind = {quoted(building.kind)}")
        lines.append(self._footing(building))
        return "\n".join(lines) + "\n"

    def _footing(self, building: BuildingAnswer) -> str:
        house = self.draft.get("outline")
        depth = self.draft.get("footing")
        if depth is None or house is None or building.name != house.name:
            return '# footing_depth = "3 ft" # how deep its footing lies below the ground outside'
        return f"footing_depth = {self.length(depth)}"

    def opening(self, opening: OpeningAnswer) -> str:
        lines = [
            "[[opening]]",
            f"name = {quoted(opening.name)}",
            f"kind = {quoted(opening.kind)}",
            f"at = {self.at(opening.at)}",
            f"width = {self.length(opening.width)}",
        ]
        if opening.kind in WELLS:
            lines += [
                f"projection = {self.length(opening.projection)}",
                "# rim = 99.23 # the lowest height of its edge, as spot heights are measured",
                "# floor = 96.00 # the height of its bottom",
                "# drained = true # whether its bottom has a drain",
            ]
        else:
            sill = "# sill = 101.00"
            if opening.sill is not None:
                sill = f"sill = {plain_figure(opening.sill, self.units)}"
            lines.append(f"{sill} # its height, as spot heights are measured")
        return "\n".join(lines) + "\n"

    def lot(self) -> Iterator[str]:
        corners = self.draft.get("lot")
        if not corners:
            yield (
                "# [lot] # its corners, and what lies beyond each side\n"
                "# corners = [[-18, -40], [62, -40], [62, 80], [-18, 80]]\n"
                '# sides = [{ name = "front", neighbor = "street" }, ...]\n'
            )
            return
        beyond = self.draft.get("neighbors")
        lines = ["[lot]", f"corners = {self.corners(corners)}"]
        if beyond:
            lines.append("sides = [")
            lines += [
                f"    {{ name = {quoted(side)}, neighbor = {quoted(neighbor)} }},"
                for side, neighbor in zip(side_names(corners), beyond, strict=True)
            ]
            lines.append("]")
        else:
            lines.append('# sides = [{ name = "front", neighbor = "street" }, ...]')
        yield "\n".join(lines) + "\n"

    def outlet(self, outlet: OutletAnswer) -> str:
        points = self.corners(outlet.points)
        where = f"point = {points[1:-1]}" if len(outlet.points) == 1 else f"line = {points}"
        return (
            f"[[outlet]]\nname = {quoted(outlet.name)}\nkind = {quoted(outlet.kind)}\n{where}\n"
            '# permission = "who allowed it, and when"\n'
        )

    def paving(self, paving: Any) -> str:
        return (
            f"[[paving]]\nname = {quoted(paving.name)}\nkind = {quoted(paving.kind)}\n"
            f"corners = {self.corners(paving.corners)}\n"
        )

    def roof(self, roof: RoofAnswer) -> str:
        pitch = f"pitch = {quoted(roof.pitch)}" if roof.pitch else '# pitch = "6:12"'
        return (
            f"[[roof]]\nname = {quoted(roof.name)}\nlength = {self.length(roof.length)}\n"
            f"width = {self.length(roof.width)}\n{pitch}\n"
        )

    def downspout(self, downspout: DownspoutAnswer) -> str:
        carries = quoted(downspout.roof)
        if downspout.share != 1.0:
            carries = f"{{ roof = {carries}, share = {downspout.share:g} }}"
        out = ', out = "4 in"' if self.units == "ft" else ', out = "10 cm"'
        size = '# size = "2 x 3 in" # the leader, round "3 in" or rectangular'
        if downspout.size:
            size = f"size = {quoted(downspout.size)}"
        return (
            f"[[downspout]]\nname = {quoted(downspout.name)}\nat = {self.at(downspout.at, out)}\n"
            f"roofs = [{carries}]\n{size}\n"
        )

    def rain(self) -> Iterator[str]:
        depth = self.draft.get("storm")
        if depth is None:
            yield (
                "# [rain]\n"
                '# storm_depth = "4 in" # what the 10-year 24-hour rain brings at this place\n'
                '# table = "rain.csv" # or a table of rain by duration and return period\n'
            )
            return
        written = self.length(depth)
        if not written.startswith('"'):
            written = quoted(f"{depth * 1000:g} mm")
        yield f'[rain]\nstorm_depth = {written}\nstorm_duration = "24 h"\n'


def _swale(swale: LineAnswer, points: Sequence[SurveyPoint]) -> str:
    """A break line through the points of the sheet that lie along the swale."""
    names = []
    for at in swale.points:
        near = min(points, key=lambda p: math.dist((p.x, p.y), at), default=None)
        if near is not None and math.dist((near.x, near.y), at) < CLOSE_M:
            names.append(near.name)
    through = ", ".join(map(quoted, dict.fromkeys(names)))
    lines = f"[[break_line]]\nname = {quoted(swale.name)}\nthrough = [{through}]\n"
    if len(set(names)) < 2:
        return "".join(f"# {line}\n" for line in lines.splitlines())
    return lines


def _soil(draft: Mapping[str, Any]) -> Iterator[str]:
    test = (
        "# A test in the ground, one of the two, once its sheet is filled in:\n"
        f"# trial_pit = {quoted(TRIAL_PIT_FILE)}\n"
        f"# percolation = {quoted(PERCOLATION_FILE)}\n"
        '# groundwater = "9 ft"\n'
    )
    texture = draft.get("soil")
    yield f"[soil]\ntexture = {quoted(texture)}\n{test}" if texture else f"# [soil]\n{test}"
