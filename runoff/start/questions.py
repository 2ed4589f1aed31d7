"""The questions in the order in which they are asked, each with an example and what it needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from runoff.start import outline_readers
from runoff.start.lot_answers import (
    HOUSE,
    BuildingAnswer,
    DownspoutAnswer,
    Draft,
    Expected,
    OpeningAnswer,
    RoofAnswer,
    WallPlace,
    side_names,
)
from runoff.start.readers import (
    Reader,
    downspout,
    footing,
    heights_by,
    name,
    opening,
    roof,
    storm,
    tape,
    texture,
    under,
    units,
)

Said = Callable[[Any, Draft], str]


@dataclass(frozen=True)
class Question:
    """One question.

    Parameters
    ----------
    key : str
        Its name in an answers file.
    ask, example : str
        What is asked, and an answer that would do.
    metric : str
        Such an answer in meters, where that differs.
    read : callable
        From the text of an answer and the answers so far to what it means; raises `Expected`.
    said : callable
        What was understood, in words.
    default : str
        The answer taken where none is given; empty for none.
    needed : bool
        Whether it can be skipped.
    repeats : bool
        Whether it is asked again until there is no more to say.
    needs : str
        Key of the question without whose answer it is not asked.
    why : str
        What an answer is good for, said where it is asked.
    how : str
        How to find the answer to one that is needed and not known.
    """

    key: str
    ask: str
    example: str
    read: Reader
    said: Said
    default: str = ""
    needed: bool = False
    repeats: bool = False
    needs: str = ""
    why: str = ""
    how: str = ""
    metric: str = ""

    def in_units(self, draft: Mapping[str, Any]) -> Question:
        """The question with its example in the units of the lot."""
        is_metric = draft.get("units") == "m" and self.metric
        return replace(self, example=self.metric) if is_metric else self

    def told(self, error: Expected, draft: Mapping[str, Any]) -> Expected:
        """The mistake with its example in the units of the lot."""
        before, such, _ = error.expected.partition("such as ")
        if not such or draft.get("units") != "m" or not self.metric:
            return error
        return Expected(f"{before.rstrip(' ,')}, such as {self.metric}", error.reason)

    def applies(self, draft: Mapping[str, Any]) -> bool:
        """Whether the answer that it needs is there."""
        return not self.needs or bool(draft.get(self.needs))


def _text(value: Any, draft: Draft) -> str:
    return str(value)


def _tape(value: Any, draft: Draft) -> str:
    return tape(value, draft)


def _units(value: Any, draft: Draft) -> str:
    return "feet and inches" if value == "ft" else "meters"


def _building(value: BuildingAnswer, draft: Draft) -> str:
    walls = ", ".join(f"{wall} {tape(value.wall_length(wall), draft)}" for wall in value.walls)
    kind = f", {value.kind}" if value.kind else ""
    missed = (
        f"; the runs missed the first corner by {tape(value.closed, draft)}, shared out over them"
        if value.closed > 1e-6
        else ""
    )
    x, y = value.corners[0]
    place = (
        ""
        if value.name == HOUSE
        else (
            f"; from the house's front left corner {tape(abs(x), draft)} to the "
            f"{'right' if x >= 0 else 'left'} and {tape(abs(y), draft)} to the "
            f"{'back' if y >= 0 else 'front'}"
        )
    )
    return f"{value.name}{kind} with walls {walls}{missed}{place}"


def _roof(value: RoofAnswer, draft: Draft) -> str:
    pitch = f", pitch {value.pitch}" if value.pitch else ", pitch not known"
    return f"{value.name}: {tape(value.length, draft)} by {tape(value.width, draft)}{pitch}"


def _at(at: WallPlace, draft: Draft) -> str:
    house = "" if at.building == HOUSE else f" of the {at.building}"
    return f"{tape(at.distance, draft)} from the left end of wall {at.wall}{house}"


def _downspout(value: DownspoutAnswer, draft: Draft) -> str:
    share = "all" if value.share == 1.0 else f"{100 * value.share:g} %"
    size = f"; pipe {value.size}" if value.size else "; pipe's size not known"
    return f"{value.name}, {_at(value.at, draft)}, carries {share} of roof {value.roof}{size}"


def _opening(value: OpeningAnswer, draft: Draft) -> str:
    out = f", standing out {tape(value.projection, draft)}" if value.projection else ""
    if value.sill is not None:
        out = f", its sill at {tape(value.sill, draft)}"
    where = f"{_at(value.at, draft)} to its middle, {tape(value.width, draft)} wide{out}"
    return f"{value.name} ({value.kind}), {where}"


def _lot(value: Any, draft: Draft) -> str:
    xs, ys = [x for x, _ in value], [y for _, y in value]
    size = f"{tape(max(xs) - min(xs), draft)} by {tape(max(ys) - min(ys), draft)}"
    return f"a lot of {size} with sides {', '.join(side_names(value))}"


def _neighbors(value: Any, draft: Draft) -> str:
    sides = side_names(draft["lot"])
    return ", ".join(f"{side}: {beyond}" for side, beyond in zip(sides, value, strict=True))


def _paving(value: Any, draft: Draft) -> str:
    return f"{value.name} ({value.kind}) with {len(value.corners)} corners"


def _outlet(value: Any, draft: Draft) -> str:
    where = "at a point" if len(value.points) == 1 else f"along {len(value.points)} points"
    return f"{value.name} ({value.kind}) {where}"


def _line(value: Any, draft: Draft) -> str:
    return f"{value.name} along {len(value.points)} points"


QUESTIONS: tuple[Question, ...] = (
    Question("name", "What is the lot called?", "0 Invented Lane", name, _text, default="My lot"),
    Question("units", "Feet or meters: ft or m?", "ft", units, _units, default="ft"),
    Question(
        "outline",
        "What is the outline of the house, from its front left corner on?",
        "36 ft x 28 ft; or wall runs E 36 ft, N 28 ft, W 36 ft, S 28 ft; or corners "
        "0, 0; 36, 0; 36, 28; 0, 28",
        outline_readers.outline,
        _building,
        needed=True,
        why="Front is the bottom of the plan: E runs to the right, N to the back of the lot.",
        how="nothing can be drawn without the house: pace it off, and tape it later",
        metric="11 m x 8.5 m; or wall runs E 11 m, N 8.5 m, W 11 m, S 8.5 m; or corners 0, 0; "
        "11, 0; 11, 8.5; 0, 8.5",
    ),
    Question(
        "under",
        "What lies under the house: basement, crawl space or slab?",
        "basement",
        under,
        _text,
    ),
    Question(
        "footing",
        "How deep is the bottom of the footing below the ground outside?",
        "7 ft",
        footing,
        _tape,
        why="It says how near a trench may come.",
        metric="2.1 m",
    ),
    Question(
        "buildings",
        "Another building, such as a garage: name, what lies under it, width x depth, and how far "
        "it stands from the house?",
        f"garage, slab, {outline_readers.BY_TAPE}; or corners garage, slab, 40, 44; 60, 44; "
        "60, 64; 40, 64",
        outline_readers.building,
        _building,
        repeats=True,
        needs="outline",
        metric="garage, slab, 6.7 m x 7.3 m, 3.6 m behind the house, 0.9 m to its right; or "
        "corners garage, slab, 12, 13; 18, 13; 18, 19; 12, 19",
    ),
    Question(
        "roofs",
        "A roof plane: name, length x width seen from above, pitch?",
        "front, 38 ft x 15 ft, 6:12",
        roof,
        _roof,
        repeats=True,
        why="Without a roof no downspout can be asked for.",
        metric="front, 11.6 m x 4.6 m, 6:12",
    ),
    Question(
        "downspouts",
        "A downspout: name, wall, distance from the wall's left end as you face it, roof and "
        "share, and the pipe's size?",
        "front left, front, 1 ft, front 50 %, 2 x 3 in",
        downspout,
        _downspout,
        repeats=True,
        needs="roofs",
        why="The size says how much water the pipe can bring; leave out what is not known.",
        metric="front left, front, 30 cm, front 50 %, round 100 mm",
    ),
    Question(
        "openings",
        "A window well, stairwell, door, garage door or crawl-space vent: name, kind, wall, "
        "distance from the left end to its middle, width, and how far a well stands out, or the "
        "height of a sill?",
        "well 1, window well, left, 20 ft, 3 ft, 2 ft 6 in; or side door, door, right, 10 ft, "
        "3 ft, sill 100.5",
        opening,
        _opening,
        repeats=True,
        needs="outline",
        why="Water over a sill gets in. Its height is measured as the ground's is: leave it out "
        "until then.",
        metric="well 1, window well, left, 6 m, 90 cm, 75 cm; or side door, door, right, 3 m, "
        "90 cm, sill 100.15",
    ),
    Question(
        "lot",
        "How far do the lot lines lie from the house?",
        "front 40 ft, right 26 ft, rear 52 ft, left 18 ft; or corners "
        "-18, -40; 62, -40; 62, 80; -18, 80",
        outline_readers.lot,
        _lot,
        needs="outline",
        why="Without the lot nobody can say whether water runs onto a neighbor.",
        metric="front 12 m, right 8 m, rear 16 m, left 5.5 m; or corners -5, -12; 19, -12; "
        "19, 24; -5, 24",
    ),
    Question(
        "neighbors",
        "What lies beyond each side: street, alley, neighbor or open ground?",
        "front street, right neighbor, rear open ground, left neighbor",
        outline_readers.neighbors,
        _neighbors,
        needs="lot",
    ),
    Question(
        "outlets",
        "A street gutter, ditch or storm inlet that may take the water: name, kind, the side of "
        "the lot it runs along, and how far beyond the lot line?",
        "street, street gutter, front, 8 ft; or points inlet, storm inlet, 62, -44",
        outline_readers.outlet,
        _outlet,
        repeats=True,
        needs="lot",
        why="Without one no way to build can end there. Ask the town before you use it.",
        metric="street, street gutter, front, 2.5 m; or points inlet, storm inlet, 19, -13",
    ),
    Question(
        "sidewalk",
        "A public sidewalk between the lot and the street: which side, how far beyond the lot line "
        "does it begin, how wide?",
        "front, 1 ft, 5 ft",
        outline_readers.sidewalk,
        _paving,
        repeats=True,
        needs="lot",
        why="City codes commonly forbid leading roof water over it: it freezes there.",
    ),
    Question(
        "paving",
        "A walk, drive or patio: name, kind, width x depth, and how far it lies from the house?",
        "patio, patio, 12 ft x 10 ft, against its rear, flush with its left; or corners drive, "
        "drive, 44, -40; 54, -40; 54, 44; 44, 44",
        outline_readers.paving,
        _paving,
        repeats=True,
        metric="patio, patio, 3.6 m x 3 m, against its rear, flush with its left; or corners "
        "drive, drive, 13, -12; 16, -12; 16, 13; 13, 13",
    ),
    Question(
        "swales",
        "A swale or ditch: name, points along its bottom?",
        "swale, -18, 70; 20, 68; 62, 64",
        outline_readers.line,
        _line,
        repeats=True,
        metric="swale, -5, 21; 6, 20.5; 19, 20",
    ),
    Question(
        "heights",
        "How will heights be taken: laser level, builder's level, water level or string level?",
        "laser level",
        heights_by,
        _text,
        default="string level",
    ),
    Question(
        "storm",
        "The depth of the rain to judge by, if you know it?",
        "4 in",
        storm,
        _tape,
        why="Usual is the 10-year 24-hour rain of the place.",
        metric="100 mm",
    ),
    Question(
        "soil",
        "The soil's texture, if you know it?",
        "sandy loam",
        texture,
        _text,
        why="A test in the ground is worth more; a sheet for one is written.",
    ),
)
KEYS = tuple(question.key for question in QUESTIONS)
