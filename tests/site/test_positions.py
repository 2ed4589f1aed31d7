"""Lines of entries, for every way that TOML has of writing them."""

import pytest

from runoff.site import Positions

TEXT = """\
# comment
a.b = 1
"x y" = [1, # one
  [2,
   3],
]
[site]
name = '''
long'''
other = 1
[[building]]
at = { wall = 1, on.top = [1, 2] }
[building.sub]
k = 2
[[building.part]]
[[building.part]]
k = 3
[[building]]
z = 1
"q.r" = { "s" = 1 }
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 2),
        (("a", "b"), 2),
        (("x y",), 3),
        (("x y", 0), 3),
        (("x y", 1), 4),
        (("x y", 1, 1), 5),
        (("site",), 7),
        (("site", "name"), 8),
        (("site", "other"), 10),
        (("building",), 11),
        (("building", 0), 11),
        (("building", 0, "at", "wall"), 12),
        (("building", 0, "at", "on", "top", 1), 12),
        (("building", 0, "sub", "k"), 14),
        (("building", 0, "part", 1, "k"), 17),
        (("building", 1), 18),
        (("building", 1, "z"), 19),
        (("building", 1, "q.r", "s"), 20),
        (("building", 1, "missing"), 18),
        (("nothing",), None),
        ((), None),
    ],
)
def test_line_of_an_entry(path, line):
    assert Positions(TEXT).line(path) == line
