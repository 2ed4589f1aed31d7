"""The depression hierarchy and ponding against richdem's, by the authors of both methods.

Barnes, Callaghan & Wickert 2020 (doi:10.5194/esurf-8-431-2020) and 2021
(doi:10.5194/esurf-9-105-2021). Their border ring is the ocean, as ours is open.
"""

from dataclasses import dataclass

import numpy as np
import pytest
import richdem

from runoff.flow import basins_of, measure, ponding
from tests.flow.peers import rd_array
from tests.flow.terrains import hilly, rough

NONE = richdem.depression_hierarchy.NO_VALUE


@dataclass(frozen=True)
class Theirs:
    dem: object
    labels: object
    directions: object
    deps: list

    def pits(self, d):
        """Lowest cells of the leaves of a depression."""
        if self.deps[d].lchild == NONE:
            return frozenset([self.deps[d].pit_cell])
        return self.pits(self.deps[d].lchild) | self.pits(self.deps[d].rchild)


def their_hierarchy(z):
    dem, labels = rd_array(z), richdem.get_new_depression_hierarchy_labels(z.shape)
    deps, directions = richdem.get_depression_hierarchy(dem, labels)
    return Theirs(dem, labels, directions, deps)


def ours_by_pits(found):
    """{pits: (spill height, volume, spill cell)}, each depression that a single cell makes once.

    Where three basins meet in one cell, their merges come at one height and in any order; those
    that end at the height they began at are nothing but that order, and are left out.
    """
    tree, out = found.hierarchy, {}
    for d in range(1, tree.parent.size):
        if tree.left[d] > 0 and found.spill_height[tree.left[d]] == found.spill_height[d]:
            continue
        pits = frozenset(int(tree.pit_cell[leaf]) for leaf in found.leaves_of(d))
        out[pits] = found.spill_height[d], found.capacity[d], int(tree.spill_cell[d])
    return out


def theirs_by_pits(theirs):
    out = {}
    for d, dep in enumerate(theirs.deps[1:], start=1):
        if dep.lchild != NONE and theirs.deps[dep.lchild].out_elev == dep.out_elev:
            continue
        out[theirs.pits(d)] = dep.out_elev, dep.dep_vol, dep.out_cell
    return out


@pytest.mark.parametrize("make", [rough, hilly])
@pytest.mark.parametrize("seed", range(8))
def test_every_depression_is_theirs(make, seed):
    z = make(seed)
    ours, theirs = ours_by_pits(measure(basins_of(z))), theirs_by_pits(their_hierarchy(z))
    assert any(len(pits) > 2 for pits in ours)
    assert ours.keys() == theirs.keys()
    for pits, (height, volume, cell) in ours.items():
        assert (height, cell) == (theirs[pits][0], theirs[pits][2])
        assert volume == pytest.approx(theirs[pits][1], rel=1e-10, abs=1e-11)


def our_links(found):
    tree = found.hierarchy
    return {
        frozenset(int(tree.pit_cell[leaf]) for leaf in found.leaves_of(d)): int(
            tree.pit_cell[tree.over[d]] if tree.over[d] > 0 else -1
        )
        for d in range(1, tree.parent.size)
    }


def their_links(theirs):
    beyond = {}
    for d, dep in enumerate(theirs.deps[1:], start=1):
        to = dep.geolink
        beyond[theirs.pits(d)] = -1 if to in (0, NONE) else theirs.deps[to].pit_cell
    return beyond


def test_standing_water_is_theirs():
    """Water put at the pits, so that both hand it to the same depressions.

    Beyond a saddle theirs runs to the lowest neighbor and ours to the steepest; terrains on which
    that leads into another basin compare two different questions and are left out.
    """
    compared = 0
    for seed in range(60):
        z = rough(seed, (11, 12))
        theirs, found = their_hierarchy(z), measure(basins_of(z))
        if our_links(found) != their_links(theirs):
            continue
        water = np.zeros(z.shape)
        pits = found.hierarchy.pit_cell[1:]
        water.flat[pits] = 2.0 * np.random.default_rng(seed).random(pits.size)
        depth = rd_array(water)
        richdem.fill_spill_merge(theirs.dem, theirs.labels, theirs.directions, theirs.deps, depth)
        inner = np.s_[1:-1, 1:-1]
        np.testing.assert_allclose(
            ponding(z, water)[inner], np.array(depth)[inner], rtol=0, atol=1e-12
        )
        compared += 1
    assert compared >= 25
