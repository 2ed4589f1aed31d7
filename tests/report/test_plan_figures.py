"""The figures of a plan: what is drawn is the record's, to the scale that is said, and legible."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.text import Text

from runoff.quantities import parse_length
from runoff.report import (
    Scale,
    compose_pit,
    compose_profile,
    compose_swale,
    compose_swale_profile,
    compose_swale_section,
    draw_pit,
    draw_profile,
    draw_swale,
    is_own,
    paper_of,
)
from tests.lots.made_up import made_up_site
from tests.report.made_up_plan import made_up_line, made_up_pit, made_up_swale


def site_over(units, groundwater: float):
    """The made-up site with groundwater at a depth, metres."""
    site = made_up_site(units)
    return replace(site, soil=replace(site.soil, groundwater=groundwater))


def over_rock(units, bedrock: float):
    """The same with bedrock, and groundwater that stands deep."""
    site = site_over(units, 6.0)
    return replace(site, soil=replace(site.soil, bedrock=bedrock))


def small_pit():
    """The made-up pit, half as long and wide."""
    pit = made_up_pit()
    check = pit.governing
    half = replace(check, pit=replace(check.pit, length_m=1.4, width_m=1.4))
    return replace(pit, governing=half, by_whole_storm=half)


FIGURES = {
    "profile": lambda units: compose_profile(made_up_line(), made_up_site(units), "front left"),
    "feed": lambda units: compose_profile(made_up_line(False), made_up_site(units), "rear left"),
    "pit": lambda units: compose_pit(made_up_pit(), made_up_site(units), "rear left"),
    "small pit": lambda units: compose_pit(small_pit(), site_over(units, 2.2), "rear left"),
    "deep water": lambda units: compose_pit(made_up_pit(), site_over(units, 6.0), "rear left"),
    "deep rock": lambda units: compose_pit(made_up_pit(), over_rock(units, 6.0), "rear left"),
    "rock": lambda units: compose_pit(made_up_pit(), over_rock(units, 2.3), "rear left"),
    "swale": lambda units: compose_swale(made_up_swale(), made_up_site(units), "rear right"),
}


def steep_swale():
    """Ground that rises over a hump and then falls 8 %, a bottom that falls 1 % at the least."""
    swale = made_up_swale()
    at = swale.stations_m
    ground = 30.2 - 0.08 * np.abs(at - 1.0) - 0.05 * (at < 1.0)
    bottom = np.minimum(ground, 30.0 - 0.01 * at)
    return replace(swale, ground_m=ground, bottom_m=np.minimum.accumulate(bottom) - 0.01 * at)


SWALES = {
    "along and across": lambda swale, site: compose_swale(swale, site, "rear"),
    "along, to scale": lambda swale, site: compose_swale_profile(
        swale, site, "rear", paper_of("letter")
    ),
    "across, to scale": lambda swale, site: compose_swale_section(
        swale, site, "rear", paper_of("letter")
    ),
}


def said(figure: Figure) -> list[str]:
    """Every text on the sheet and on its axes."""
    return [text.get_text() for axes in figure.axes for text in axes.texts if text.get_text()] + [
        text.get_text() for text in figure.texts
    ]


def ratio(figure: Figure, number: int = 0) -> float:
    """How many times as large as distances the axes draw heights."""
    axes = figure.axes[number]
    width, height = figure.get_size_inches()
    box = axes.get_position()
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    return (box.height * height / (high - low)) / (box.width * width / (right - left))


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("name", FIGURES)
def test_texts_do_not_overlap_and_stay_on_the_sheet(name, units) -> None:
    figure = FIGURES[name](units)
    renderer = figure.canvas.get_renderer()
    figure.draw_without_rendering()
    texts = [text for axes in figure.axes for text in axes.texts if text.get_text()]
    # Of an annotation the words alone: its arrow may pass by others.
    boxes = [(text.get_text(), Text.get_window_extent(text, renderer)) for text in texts]
    boxes += [(text.get_text(), text.get_window_extent(renderer)) for text in figure.texts]
    for axes in figure.axes:
        for label in (axes.xaxis.label, axes.yaxis.label):
            boxes.append((label.get_text(), label.get_window_extent(renderer)))
    assert len(boxes) > 8
    for (a, first), (b, second) in itertools.combinations(boxes, 2):
        assert not first.overlaps(second), (a, b)
    width, height = figure.canvas.get_width_height()
    for words, box in boxes:
        assert 0 <= box.x0 <= box.x1 <= width, words
        assert 0 <= box.y0 <= box.y1 <= height, words


@pytest.mark.parametrize("units", ["ft", "m"])
def test_both_axes_are_in_the_readers_units(units) -> None:
    for make in FIGURES.values():
        for axes in make(units).axes:
            assert f"({units})" in axes.get_xlabel()
            assert f"({units})" in axes.get_ylabel()


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("daylight", [True, False])
def test_the_exaggeration_that_is_said_is_the_one_drawn(units, daylight) -> None:
    figure = compose_profile(made_up_line(daylight), made_up_site(units), "front left")
    times = re.search(r"vertical exaggeration (\d+) times", " ".join(said(figure)))
    assert ratio(figure) == pytest.approx(float(times[1]) if times else 1.0, rel=1e-6)


def test_a_pit_is_drawn_to_one_scale_and_says_so() -> None:
    figure = FIGURES["pit"]("ft")
    assert "no vertical exaggeration" in " ".join(said(figure))
    assert ratio(figure) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("units", ["ft", "m"])
def test_the_pipe_is_drawn_with_its_bore_at_its_invert(units) -> None:
    line, scale = made_up_line(), Scale(units)
    axes = compose_profile(line, made_up_site(units), "front left").axes[0]
    bore = scale.of(line.profile.pipe.bore_m)
    ends = [scale.of(float(line.profile.invert_m[k])) for k in (0, -1)]
    pipes = []
    for patch in axes.collections:
        if isinstance(patch, PolyCollection):
            x, y = patch.get_paths()[0].vertices.T
            at = [y[np.isclose(x, edge)] for edge in (0.0, scale.of(line.length_m))]
            spans = [(part.min(), part.max()) for part in at if len(part)]
            if len(spans) == 2 and np.allclose(
                spans, [(end, end + bore) for end in ends], atol=1e-9
            ):
                pipes.append(patch)
    assert len(pipes) == 1


def test_the_inverts_that_are_written_are_the_records() -> None:
    line = made_up_line()
    words = said(compose_profile(line, made_up_site("ft"), "front left"))
    written = [
        parse_length(m[1]) for text in words for m in [re.match(r"invert (.+)\n", text)] if m
    ]
    for invert in (line.profile.invert_m[0], line.profile.invert_m[-1]):
        assert min(abs(value - invert) for value in written) <= 0.5 * 0.0254 / 4 + 1e-9


def test_fittings_crossings_cover_and_end_are_on_the_profile() -> None:
    text = " ".join(said(FIGURES["profile"]("ft")))
    for words in ("cleanout", "45 degree bend", "front walk", "daylight at", "less than 1 ft"):
        assert words in text
    assert "daylight" not in " ".join(said(FIGURES["feed"]("ft")))


@pytest.mark.parametrize("units", ["ft", "m"])
@pytest.mark.parametrize("view", SWALES)
@pytest.mark.parametrize("swale", [made_up_swale(), steep_swale()], ids=["even", "steep"])
def test_words_keep_off_the_lines_of_a_swale(swale, view, units) -> None:
    figure = SWALES[view](swale, made_up_site(units))
    figure.draw_without_rendering()
    seen = 0
    for axes in figure.axes:
        lines = [line.get_transform().transform_path(line.get_path()) for line in axes.lines]
        for text in (text for text in axes.texts if text.get_text()):
            box = Text.get_window_extent(text)
            assert not any(line.intersects_bbox(box, filled=False) for line in lines), text
            seen += len(lines)
    assert seen >= 5


@pytest.mark.parametrize("units", ["ft", "m"])
def test_a_swale_says_how_far_its_bottom_falls_and_its_least_grade(units) -> None:
    """1 % over 10 m, and 15 cm more before the first metre."""
    words = " ".join(said(compose_swale(made_up_swale(), made_up_site(units), "rear")))
    fall = re.search(r"bottom falling (.+?), nowhere flatter than 1 %", words)
    assert fall is not None
    assert parse_length(fall[1]) == pytest.approx(0.25, abs=0.0254 / 2)


def test_a_profile_from_rough_heights_says_so() -> None:
    site = made_up_site("ft")
    rough = replace(site, height_accuracy=replace(site.height_accuracy, indication_only=True))
    for place, told in ((rough, True), (site, False)):
        words = " ".join(said(compose_profile(made_up_line(), place, "front left")))
        assert ("INDICATION ONLY" in words) == told


def test_groundwater_is_drawn_or_told_where_it_is_known() -> None:
    def words(site) -> str:
        return " ".join(said(compose_pit(made_up_pit(), site, "rear left")))

    assert "groundwater, 2.20 m down" in words(site_over("m", 2.2))
    assert "groundwater, 6.00 m down, deeper than is drawn" in words(site_over("m", 6.0))
    assert "groundwater" not in words(made_up_site("m"))


@pytest.mark.parametrize("units", ["ft", "m"])
def test_bedrock_is_drawn_at_its_depth_below_the_ground(units) -> None:
    pit, site = made_up_pit(), made_up_site(units)
    deep = pit.dig_depth_m + 0.3
    rocky = replace(site, soil=replace(site.soil, bedrock=deep, groundwater=9.0))
    figure = compose_pit(pit, rocky, "rear left")
    (words,) = [each for each in said(figure) if "bedrock" in each]
    assert "deeper" not in words
    hatched = [p for p in figure.axes[0].patches if p.get_hatch() == "xx"]
    unit = 0.3048 if units == "ft" else 1.0
    tops = [patch.get_y() + patch.get_height() for patch in hatched]
    assert tops == pytest.approx([(pit.ground_m - deep) / unit])
    far = replace(site, soil=replace(site.soil, bedrock=9.0, groundwater=9.0))
    told = " ".join(said(compose_pit(pit, far, "rear left")))
    assert told.count("deeper than is drawn") == 2
    assert "bedrock" not in " ".join(said(compose_pit(pit, site, "rear left")))


def test_each_is_written_as_a_picture_of_the_tool(tmp_path: Path) -> None:
    site = made_up_site("m")
    paths = [
        draw_profile(made_up_line(), site, "front left", tmp_path / "profile.png"),
        draw_pit(made_up_pit(), site, "rear left", tmp_path / "pit.svg"),
        draw_swale(made_up_swale(), site, "rear right", tmp_path / "swale.pdf"),
    ]
    assert all(is_own(path) for path in paths)
    with pytest.raises(ValueError, match=r"pit\.doc: a picture is a \.png, \.svg or \.pdf file"):
        draw_pit(made_up_pit(), site, "rear left", tmp_path / "pit.doc")
