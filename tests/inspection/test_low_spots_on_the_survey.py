"""Low spots do not hang on the cells: exact on the surveyed surface, however the lot is drawn."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runoff.inspection import inspect
from runoff.sample import sample_folder
from runoff.site import SpotHeight, read_site
from runoff.terrain import build_terrain
from runoff.words import downspout_sentence
from tests.flow.plain_hollows import flooded, held, spill_height
from tests.lots.moved import Drawn, drawn, low_spots
from tests.lots.records import WRITTEN, a_box, a_site

TURNS = (
    Drawn(),
    Drawn(mirrored=True),
    Drawn(17.0),
    Drawn(45.0),
    Drawn(90.0),
    Drawn(shift=(0.136, 0.136)),  # half a cell
    Drawn(200.0, True, (0.3, 0.7)),
    Drawn(cell_size=0.15),
    Drawn(22.5, cell_size=0.15),
)


def shots(rows):
    return tuple(
        SpotHeight(f"S{k}", *map(float, row), "", WRITTEN) for k, row in enumerate(rows, 1)
    )


def a_pyramid_pit(cell_size=None):
    """A pit 4 m square and 0.15 m deep in a lot that falls away from its rim, one corner lower.

    Up to the low corner at 0.10 m over the pit: two thirds of each of the four triangles' depth.
    """
    inner = [(-2, -2, 10.15), (2, -2, 10.10), (2, 2, 10.15), (-2, 2, 10.15), (0, 0, 10.0)]
    outer = [(x, y, 9.5) for x in (-9, 0, 9) for y in (-9, 0, 9) if (x, y) != (0, 0)]
    return a_site(units="m", spot_heights=shots(inner + outer), cell_size=cell_size)


@pytest.mark.parametrize("how", [*TURNS, Drawn(30.0, cell_size=0.3)], ids=str)
def test_a_pyramid_pit_is_told_exactly(how):
    """By hand: the pond is 10/15 as deep as two of its sides are high, along all four diagonals.

    Corners of the water line lie at 2/3 of three diagonals and at the low corner itself, so its
    area is half the product of crossed diagonals, and the volume a third of area times depth.
    """
    told = low_spots(drawn(a_pyramid_pit(0.3), how))
    assert len(told) == 1
    diagonal = 2 * np.sqrt(2)
    area = (2 / 3 + 2 / 3) * diagonal * (1 + 2 / 3) * diagonal / 2
    assert told[0].depth_m == pytest.approx(0.10, abs=1e-9)
    assert told[0].area_m2 == pytest.approx(area, rel=1e-6)
    assert told[0].volume_m3 == pytest.approx(area * 0.10 / 3, rel=1e-6)
    # It takes the rain on its own four sides, 16 m2. TR-55's runoff equation, solved for the rain:
    # q = (p - 0.2 s)^2 / (p + 0.8 s) with s = 1000/80 - 10 in (good grass, group D).
    p, s, q = told[0].rain_to_fill_m, (1000 / 80 - 10) * 0.0254, told[0].volume_m3 / 16
    assert (p - 0.2 * s) ** 2 / (p + 0.8 * s) == pytest.approx(q, rel=0.005)
    x, y = how.move([[2.0, -2.0]])[0]
    assert told[0].pour_point == pytest.approx((x, y), abs=1e-6)


@pytest.mark.parametrize("how", TURNS[1:], ids=str)
def test_the_sample_holds_the_same_however_it_is_drawn(how):
    site = read_site(sample_folder() / "site.toml")
    told, as_drawn = low_spots(drawn(site, how)), low_spots(drawn(site, Drawn()))
    assert len(told) == len(as_drawn) == 2
    for one, other in zip(told, as_drawn, strict=True):
        assert one.depth_m == pytest.approx(other.depth_m, rel=0.01)
        # Shots on a square net: which diagonal joins them is open, and turns with the lot.
        assert one.volume_m3 == pytest.approx(other.volume_m3, rel=0.03)
        assert one.rain_to_fill_m == pytest.approx(other.rain_to_fill_m, rel=0.02)
        assert one.undecided == other.undecided
    # The leader at the front left corner lets go within a foot of where water parts at the corner.
    assert told[1].undecided == ("front left",)
    assert told[1].rain_otherwise_m == pytest.approx(told[1].rain_to_fill_m / 2, rel=0.05)


def test_a_hollow_against_a_wall():
    """Ground that falls to a wall and along it to the middle: half a pyramid, cut by the wall."""
    house = a_box("house", -6, -5, 6, 0)
    wall = [(x, 0, 10 + abs(x) / 20) for x in (-6, -3, 0, 3, 6)]
    yard = [(x, y, 10 + abs(x) / 20 + y / 10) for x in (-6, -3, 0, 3, 6) for y in (1.5, 3)]
    beyond = [(x, y, 9.0) for x in (-9, 9) for y in (-5, 0, 5)]
    beyond += [(x, 6, 9.0) for x in (-3, 0, 3)]
    site = a_site(units="m", spot_heights=shots(wall + yard + beyond), buildings=(house,))
    (told,) = low_spots(site)
    triangulated(site, told)
    assert told.wall_distance_m == 0.0
    assert told.depth_m == pytest.approx(0.30, abs=1e-9)


def triangulated(site, told):
    """A low spot's figures are those of a plain count on the triangles."""
    ground = build_terrain(site).triangulated
    pit = int(np.argmin(np.hypot(*(ground.xyz[:, :2] - told.lowest).T)))
    assert told.spill_height_m == spill_height(ground.xyz, ground.triangles, ground.open_edge, pit)
    volume, area = held(ground.xyz, ground.triangles, pit, told.spill_height_m)
    assert told.volume_m3 == pytest.approx(volume, rel=1e-9)
    assert told.area_m2 == pytest.approx(area, rel=1e-9)


def lowest_corners(ground, grid, told):
    """The lowest corner of each pond of a low spot: two that spill side by side are told as one."""
    cells = set(map(tuple, told.cells.tolist()))
    left = [
        k
        for k in np.argsort(ground.xyz[:, 2]).tolist()
        if grid.cell(*ground.xyz[k, :2].tolist()) in cells
        and ground.xyz[k, 2] < told.spill_height_m
    ]
    found = []
    while left:
        level = spill_height(ground.xyz, ground.triangles, ground.open_edge, left[0])
        wet = flooded(ground.xyz, ground.triangles, left[0], level)
        found.append(left[0])
        left = [k for k in left if k not in wet and k != left[0]]
    return found


def a_dented_yard(seed):
    """Dents 0.15 to 0.4 m deep at random, the last in a wider one, shots about 2 m apart."""
    rng = np.random.default_rng(seed)
    x, y = (each.ravel() for each in np.meshgrid(np.arange(0, 25, 2.0), np.arange(0, 25, 2.0)))
    xy = np.column_stack([x, y]) + rng.uniform(-0.5, 0.5, (x.size, 2))
    z = 10 + 0.01 * xy[:, 0]
    dents = [(6, 6, 3, 0.3), (18, 7, 2.5, 0.2), (12, 17, 5, 0.15), (14, 17, 2, 0.25)]
    for at_x, at_y, wide, deep in dents:
        center = np.array([at_x, at_y]) + rng.uniform(-1, 1, 2)
        away = np.hypot(*(xy - center).T)
        z = z - deep * rng.uniform(0.7, 1.3) * np.maximum(1 - away / wide, 0.0)
    return a_site(units="m", spot_heights=shots(np.column_stack([xy, z.round(3)])))


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1), st.sampled_from(TURNS))
def test_a_dented_yard_holds_what_its_triangles_do(seed, how):
    site = a_dented_yard(seed)
    site = drawn(site, how)
    terrain = build_terrain(site)
    ground = terrain.triangulated
    compared = 0
    for told in low_spots(site):
        if told.volume_m3 < 0.2:
            continue
        plain = [
            held(ground.xyz, ground.triangles, pit, level)
            for pit in lowest_corners(ground, terrain.grid, told)
            for level in [spill_height(ground.xyz, ground.triangles, ground.open_edge, pit)]
        ]
        assert told.volume_m3 == pytest.approx(sum(volume for volume, _ in plain), rel=0.005)
        compared += 1
    assert compared >= 2


@settings(max_examples=8, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1), st.sampled_from(TURNS[1:]))
def test_a_dented_yard_fills_in_the_same_rain_however_it_is_drawn(seed, how):
    site = a_dented_yard(seed)
    told, otherwise = (
        sorted((s.volume_m3, s.rain_to_fill_m) for s in low_spots(each) if s.volume_m3 > 0.1)
        for each in (site, drawn(site, how))
    )
    assert len(told) >= 2
    np.testing.assert_allclose(told, otherwise, rtol=0.01)


def test_a_downspout_beside_a_divide_is_not_told_firmly_to_fill_a_low_spot():
    """The sample's front left stands where the ground parts water; rear left does not."""
    findings = inspect(read_site(sample_folder() / "site.toml"))
    told = {each.name: downspout_sentence(findings.site, each) for each in findings.downspouts}
    undecided = {name for spot in findings.low_spots for name in spot.undecided}
    assert undecided == {"front left"}
    assert told["front left"].endswith("and it may run into low spot 2 instead.")
    assert "fills low spot 2" in told["rear left"]
    assert all(sentence.strip() for sentence in findings.attention)
