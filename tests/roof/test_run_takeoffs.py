"""The gutters of a site, each taken off as its own run."""

from dataclasses import replace

import pytest

from runoff.quantities import format_length, parse_length
from runoff.roof import gutter_take_offs, take_off
from runoff.rules import Rules
from runoff.site import InputError
from runoff.words import end_words, fall_note
from tests.lots.records import a_site
from tests.lots.roofs import FOOT, a_downspout, a_gutter, a_roof

EAVE = parse_length("21 ft + 5 ft 4 in")


def test_each_gutter_with_a_known_eave_is_taken_off():
    # Common practice, no source: 26 ft 4 in read across a mark takes 26 ft 5 in of gutter.
    site = a_site(
        gutters=(
            a_gutter("front", "main", eave=EAVE, outlet_ends="left"),
            a_gutter("unknown", "main", eave=None),
            a_gutter("back", "rear", eave=EAVE, outlet_ends="both ends", shape="half-round"),
        )
    )
    front, back = gutter_take_offs(site)
    assert (front.run.name, front.name) == ("front", "5 in ogee")
    assert front.take_off == take_off(EAVE, "left")
    assert [format_length(piece) for piece in front.take_off.cut_m] == ["16 ft", "10 ft 8 in"]
    assert (back.run.name, back.name) == ("back", "5 in half-round")
    assert back.take_off == take_off(EAVE, "both ends")
    assert not front.end_assumed
    assert not back.end_assumed


@pytest.mark.parametrize(("spouts", "end"), [(1, "right"), (2, "both ends"), (3, "right")])
def test_an_outlet_whose_end_is_not_given_is_assumed_and_said(spouts, end):
    site = a_site(
        roofs=(a_roof("main", 50.0),),
        downspouts=tuple(a_downspout(f"D{k}", ("main", 1 / spouts)) for k in range(spouts)),
        gutters=(a_gutter("front", "main", outlet_ends=None),),
    )
    (found,) = gutter_take_offs(site)
    assert found.take_off == take_off(10.0, end)
    assert end in end_words(found)[0]


def test_the_sites_own_rules_hold():
    rules = Rules().with_overrides({"gutter_hanger_spacing": 1 * FOOT})
    site = replace(a_site(gutters=(a_gutter("front", "main", eave=EAVE),)), rules=rules)
    assert gutter_take_offs(site)[0].take_off.hangers == 28


def test_more_fall_is_told_where_a_code_asks_for_it():
    # Code of Norton, Ohio: 1 in per 15 ft, so 26 ft 5 in falls 1.76 in beside the usual 1.32.
    site = a_site(gutters=(a_gutter("front", "main", eave=EAVE),))
    (found,) = gutter_take_offs(site)
    assert fall_note(site, found) == (
        "It is hung to fall 1 5/16 in; the rule gutter_fall (code of Norton, Ohio) "
        "asks for 1 3/4 in."
    )
    strict = replace(site, rules=Rules().with_overrides({"gutter_run_fall": 1 / 180}))
    assert fall_note(strict, gutter_take_offs(strict)[0]) == ""
    strict = replace(site, rules=Rules().with_overrides({"gutter_fall": 0.01}))
    assert "(the site file)" in fall_note(strict, gutter_take_offs(strict)[0])
    both = replace(site, gutters=(a_gutter("front", "main", eave=EAVE, outlet_ends="both ends"),))
    assert "asks for 7/8 in" in fall_note(both, gutter_take_offs(both)[0])


@pytest.mark.parametrize(
    ("eave", "rules", "why"),
    [
        (400.0, {}, "expected 40 at most"),
        (8.0, {"gutter_lap": 6.0}, "no piece longer than the lap"),
    ],
)
def test_a_run_that_cannot_be_made_is_refused_with_its_line(eave, rules, why):
    site = a_site(gutters=(a_gutter("front", "main", eave=eave), a_gutter("b", "m", eave=eave)))
    with pytest.raises(InputError) as caught:
        gutter_take_offs(replace(site, rules=Rules().with_overrides(rules)))
    first, _ = caught.value.problems
    assert (first.file, first.line) == ("site.toml", 1)
    assert why in first.expected
