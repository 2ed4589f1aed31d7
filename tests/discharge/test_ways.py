"""The table of ways has a row for every design, and the ways are tried in its order."""

from __future__ import annotations

from typing import get_args

import pytest

from runoff.discharge import WAYS, Design, way_of
from tests.lots.planned import planned


def test_every_design_has_one_row():
    kinds = [record.kind for record in get_args(Design)]
    assert sorted(way.kind for way in WAYS) == sorted(kinds)


@pytest.mark.parametrize("lot", ["sample", "flat_clay"])
def test_what_is_not_dug_for_is_tried_first_with_corrected_grade_too(lot):
    """The order that docs/plan.md tells."""
    for each in planned(lot).recommendations:
        assert [option.kind for option in each.options] == [
            "as it is",
            "extension",
            "corrected grade",
            "corrected grade and extension",
            "swale",
            "buried line",
            "seepage pit",
            "corrected grade and swale",
            "corrected grade and buried line",
            "corrected grade and seepage pit",
            "refer",
        ]


def test_a_design_is_of_the_option_s_way_and_stands_where_it_can_be_built():
    for each in planned("sample").recommendations:
        for option in each.options[:-1]:
            assert option.feasible == (option.design is not None)
            assert option.graded == option.kind.startswith("corrected grade")
            if option.design is not None:
                assert option.way == option.design.kind == way_of(option.design).kind
                assert option.graded == (option.correction is not None)
