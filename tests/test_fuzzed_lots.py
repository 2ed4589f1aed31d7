"""Lots spoilt in every part, through every command: answered, or refused in words.

Site files, sheets, outlines, rasters, photographs and rules are changed by chance, several at a
time. Usually a few dozen are tried, the same ones each time; `RUNOFF_MUTATIONS=20000` tries so many
others, from the seed `RUNOFF_SEED`.
"""

import faulthandler
import json
import math
import os
import random
import resource
import time
from collections import Counter
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from PIL import Image
from rasterio.transform import Affine

import runoff
from runoff.report import photographs_of
from runoff.site import InputError
from tests.lots.small import SITE, spots, write_small_lot
from tests.site.test_rule_bounds import EDGES
from tests.terrain.rasters import write_raster
from tests.test_mutated_samples import spoil

MANY = int(os.environ.get("RUNOFF_MUTATIONS", "30"))
SEED = int(os.environ.get("RUNOFF_SEED", "1"))
LONGEST_S, MOST_MB = 30.0, 2000
COARSE = SITE.replace('"1.5 ft"', '"3 ft"')
HEIGHTS = ("nan", "inf", "-inf", "1e308", "-32768", "9999", "0", "1e6", "3.4e38")
# What cannot be less than nothing, by how its name in the JSON ends or what it is called.
NOT_NEGATIVE = ("_m2", "_m3", "m3_per_s", "_s", "sigma_m", "length_m", "depth_m", "cell_size_m")


def outlines(chance: random.Random) -> str:
    ring = [[0, 0], [6, 0], [6, 5], [0, 5], [0, 0]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    feature = {"type": "Feature", "properties": {"name": "house"}, "geometry": shape}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]}, indent=1)
    return spoil(text, chance)


def with_outlines(folder: Path, site: str, chance: random.Random) -> str:
    content = outlines(chance).encode("utf-8", "surrogatepass")
    (folder / "house.geojson").write_bytes(content)
    corners = "corners = [[0, 0], [20, 0], [20, 16], [0, 16]]"
    return site.replace(corners, 'outline = { file = "house.geojson" }')


def with_raster(folder: Path, site: str, chance: random.Random) -> str:
    """Elevation data in place of the sheet: heights that cannot be, damage, other grids."""
    heights = 30.0 + np.add.outer(np.linspace(0, 1, 40), np.linspace(0, 0.5, 40))
    for _ in range(chance.choice((0, 1, 5, 600))):
        at = chance.randrange(40), chance.randrange(40)
        heights[at] = float(chance.choice(HEIGHTS))
    with np.errstate(over="ignore"):
        kept = heights.astype("f4")
    pixels = Affine(0.5, 0.0, 500_000 - 6, 0.0, -0.5, 4_400_000 + 12)
    odd = {"scale": 1.0, "offset": 1e308} if chance.random() < 0.1 else {}
    (folder / "dem.tif").unlink(missing_ok=True)
    file = write_raster(folder / "dem.tif", kept, pixels, "EPSG:32617", **odd)
    content = bytearray(file.read_bytes())
    for _ in range(chance.choice((0, 0, 1, 20))):
        content[chance.randrange(min(len(content), chance.choice((300, 10**6))))] = (
            chance.randrange(256)
        )
    if chance.random() < 0.1:
        del content[chance.randrange(len(content)) :]
    file.write_bytes(bytes(content))
    placed = 'map_origin = [500000, 4400000]\ncrs = "EPSG:32617"\nnorth = 0\n[terrain]'
    given = site.replace('spot_heights = "spots.csv"', 'elevation = "dem.tif"')
    return given.replace("[terrain]", placed).replace('heights_by = "laser level"', "")


def with_photograph(folder: Path, site: str, chance: random.Random) -> str:
    file = folder / chance.choice(("a.jpg", "a.png", "a.webp", "a.tif"))
    Image.effect_noise((40, 30), 50).convert("RGB").save(file)
    content = bytearray(file.read_bytes())
    for _ in range(chance.choice((0, 3, 30))):
        content[chance.randrange(len(content))] = chance.randrange(256)
    file.write_bytes(bytes(content))
    return f'{site}\n[[photograph]]\nfile = "{file.name}"\ncaption = "one"\n'


def spoilt(folder: Path, chance: random.Random) -> Path:
    """A lot with one to three of its parts spoilt."""
    site, sheet = COARSE, spots()
    for part in chance.sample(("site", "sheet", "outlines", "raster", "photograph", "rules"), 3)[
        : chance.randint(1, 3)
    ]:
        if part == "site":
            site = spoil(site, chance)
        elif part == "sheet":
            sheet = spoil(sheet, chance)
        elif part == "rules":
            rules = dict(chance.sample(EDGES, 3))
            written = "\n".join(f'{name} = "{value}"' for name, value in rules.items())
            site = f"{site}\n[rules]\n{written}\n"
        else:
            make = {
                "outlines": with_outlines,
                "raster": with_raster,
                "photograph": with_photograph,
            }[part]
            site = make(folder, site, chance)
    path = write_small_lot(folder)
    path.write_bytes(site.encode("utf-8", "surrogatepass"))
    (folder / "spots.csv").write_bytes(sheet.encode("utf-8", "surrogatepass"))
    return path


def through(command: str, site: Path, out: Path) -> object:
    """What a command answers, as data where it has any."""
    lot = runoff.read_site(site)
    photographs_of(lot)
    if command == "check":
        runoff.check(lot)
        return {}
    if command == "inspect":
        found = runoff.inspect(lot)
        # Ground that is asked about is never told as fine.
        asked = [spot for spot in found.low_spots if spot.on_lot and spot.question]
        assert found.needs_attention or not (found.terrain.suspects or asked)
        return found.to_dict()
    plan = runoff.plan(lot)
    if command == "report":
        from runoff.report import write_plan, write_report

        write_plan(plan, out)
        write_report(out / "report.pdf", plan.findings, plan)
    return plan.to_dict()


def figures(held: object, name: str = "") -> list[tuple[str, float]]:
    """Every number with the name that it goes by."""
    if isinstance(held, dict):
        return [each for key, value in held.items() for each in figures(value, key)]
    if isinstance(held, list | tuple):
        return [each for value in held for each in figures(value, name)]
    is_number = isinstance(held, int | float) and not isinstance(held, bool)
    return [(name, float(held))] if is_number else []  # type: ignore[arg-type]


def look_over(answer: object) -> None:
    """No figure is no number, and none is less than nothing where that cannot be."""
    for name, value in figures(answer):
        assert math.isfinite(value), name
        if name.endswith(NOT_NEGATIVE) and not name.startswith(("error", "out")):
            assert value >= -1e-6, (name, value)


COUNTS: Counter[str] = Counter()


def try_one(folder: Path, number: int) -> None:
    """One case: whatever happens is an answer or a refusal."""
    chance = random.Random(f"{SEED} {number}")
    folder.mkdir(exist_ok=True)
    site = spoilt(folder, chance)
    command = chance.choices(("check", "inspect", "plan", "report"), (8, 16, 2, 1))[0]
    # After a hang this file says which one it was.
    (folder / "last.txt").write_text(f"case {number}, seed {SEED}, {command}")
    faulthandler.dump_traceback_later(20 * LONGEST_S, exit=True)
    before = time.process_time()
    try:
        answer = through(command, site, folder / "out")
        refused = ()
    except InputError as error:
        answer, refused = {}, error.problems or (None,)
    finally:
        faulthandler.cancel_dump_traceback_later()
    COUNTS[f"{command} {'refused' if refused else 'answered'}"] += 1
    look_over(answer)
    for problem in refused:
        assert str(problem).isprintable(), repr(str(problem))
        assert len(str(problem)) < 4000
    assert time.process_time() - before < LONGEST_S


def test_spoilt_lots_are_answered_or_refused_in_words(tmp_path: Path) -> None:
    at_start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

    @settings(
        max_examples=MANY,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.integers(0, 10**9))
    def tried(number: int) -> None:
        try:
            try_one(tmp_path, number)
        except Exception as error:
            raise AssertionError(f"case {number}, seed {SEED}: {error!r}") from error

    tried()
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"\n{dict(COUNTS)}, at most {most // 1024} MB")
    assert most // 1024 < MOST_MB or most == at_start
