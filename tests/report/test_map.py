"""The map: what is drawn, where, and how the file is written."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from matplotlib.text import Text

from runoff.foundation import AtTheWall, SafeArea
from runoff.report import compose, contour_interval, draw_map, is_own, split_path
from tests.report.made_up import made_up_findings


def map_texts(figure) -> list[Text]:
    """The texts that lie on the map itself, those on the sheet's margin left out."""
    return [text for text in figure.axes[0].texts if text.get_text()]


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_file_is_of_the_kind_asked_for_and_known_again(tmp_path: Path, suffix: str) -> None:
    path = draw_map(made_up_findings(), tmp_path / f"map{suffix}")
    starts = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}
    assert path.read_bytes().startswith(starts[suffix])
    assert is_own(path)
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


def test_another_suffix_is_refused_and_nothing_written(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"map\.docx: a map is a \.png, \.svg or \.pdf file"):
        draw_map(made_up_findings(), tmp_path / "map.docx")
    assert not list(tmp_path.iterdir())


def test_labels_do_not_overlap_and_stay_on_the_map() -> None:
    figure = compose(made_up_findings())
    renderer = figure.canvas.get_renderer()
    texts = map_texts(figure)
    frame = figure.axes[0].get_window_extent(renderer)
    boxes = [(text.get_text(), text.get_window_extent(renderer)) for text in texts]
    assert len(boxes) > 15
    for (_, a), (_, b) in itertools.combinations(boxes, 2):
        assert not a.overlaps(b)
    for words, box in boxes:
        assert frame.x0 <= box.x0, words
        assert box.x1 <= frame.x1, words


def test_every_named_thing_of_the_findings_is_on_the_map() -> None:
    findings = made_up_findings()
    words = [text.get_text() for text in map_texts(compose(findings))]
    for name in ("house", "garage", "front side: street", "rear side: open ground", "yard inlet"):
        assert name in words
    for number, answer in enumerate(findings.downspouts, start=1):
        assert answer.name in words
        assert str(number) in words
    for low_spot in findings.low_spots:
        assert any(text.startswith(low_spot.name) for text in words)
    assert "F6: 1 ft high?" in words


def test_picture_is_legible_in_grey(tmp_path: Path) -> None:
    """Water, paths and buildings keep apart when color is taken away (luma of Rec. 709)."""
    path = draw_map(made_up_findings(), tmp_path / "map.png")
    luma = matplotlib.image.imread(path)[..., :3] @ np.array([0.2126, 0.7152, 0.0722])
    counts, _ = np.histogram(luma, bins=np.linspace(0.0, 1.0, 11))
    assert (counts > 500).sum() >= 6


def test_metric_site_speaks_in_metres() -> None:
    figure = compose(made_up_findings(units="m", north=None))
    words = [text.get_text() for text in figure.texts]
    assert "north is not known" in words
    assert any(text.endswith(" m") for text in words)
    assert not any(text.endswith(" ft") for text in words)


def test_scale_bar_is_true() -> None:
    """Its length on paper is the length it names at the map's own scale."""
    figure = compose(made_up_findings())
    axes = figure.axes[0]
    bars = [patch for patch in figure.artists if patch.__class__.__name__ == "Rectangle"]
    inches = sum(bar.get_width() for bar in bars)
    feet = next(float(t.get_text()[:-3]) for t in figure.texts if t.get_text().endswith(" ft"))
    map_inches = axes.get_position().width * figure.get_size_inches()[0]
    left, right = axes.get_xlim()
    assert inches / map_inches == pytest.approx(feet * 0.3048 / (right - left), rel=1e-9)


def test_path_is_split_where_the_water_ends() -> None:
    answer = made_up_findings().downspouts[0]
    answer = replace(answer, path=np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 5.0]]), length_m=5.0)
    before, beyond = split_path(answer)
    np.testing.assert_allclose(before, [[0, 0], [3, 0], [3, 2]])
    np.testing.assert_allclose(beyond, [[3, 2], [3, 5]])


@pytest.mark.parametrize(
    ("relief_m", "units", "interval"),
    [(0.3048, "ft", 0.1), (6 * 0.3048, "ft", 0.5), (20.0, "m", 1.0), (3000.0, "m", 1000.0)],
)
def test_contours_are_at_most_28_at_a_round_interval(
    relief_m: float, units: str, interval: float
) -> None:
    assert contour_interval(relief_m, units) == interval


def test_bare_ground_without_anything_else_is_drawn(tmp_path: Path) -> None:
    findings = made_up_findings()
    site = replace(
        findings.site,
        buildings=(),
        lot=None,
        paving=(),
        keep_outs=(),
        outlets=(),
        drains=(),
        break_lines=(),
        barriers=(),
        downspouts=(),
    )
    flat = np.full_like(findings.terrain.ground, 30.0)
    terrain = replace(findings.terrain, ground=flat, surface=flat, suspects=())
    bare = replace(
        findings,
        site=site,
        terrain=terrain,
        low_spots=(),
        downspouts=(),
        standing_depth=np.zeros_like(flat),
        at_the_wall=AtTheWall((), (), (), SafeArea(np.ones(flat.shape, np.uint8)), ()),
    )
    assert draw_map(bare, tmp_path / "bare.png").stat().st_size > 1000


def test_long_lists_lengthen_the_sheet() -> None:
    """On a wide lot with many downspouts the column beside the map still ends on the sheet."""
    findings = made_up_findings()
    many = tuple(
        replace(answer, name=f"{answer.name} number {turn} beside the porch of the house")
        for turn in range(6)
        for answer in findings.downspouts
    )
    figure = compose(replace(findings, downspouts=many))
    renderer = figure.canvas.get_renderer()
    assert all(text.get_window_extent(renderer).y0 >= 0 for text in figure.texts)
    (legend,) = figure.legends
    assert legend.get_window_extent(renderer).y0 >= 0


def test_names_of_any_kind_are_drawn_as_written(tmp_path: Path) -> None:
    findings = made_up_findings()
    site = replace(findings.site, name="$\\frac{1$ [bold] 角 " + "long " * 60)
    odd = replace(findings.downspouts[0], name="a $b_{$ c")
    strange = replace(findings, site=site, downspouts=(odd, *findings.downspouts[1:]))
    figure = compose(strange)
    assert "a $b_{$ c" in [text.get_text() for text in map_texts(figure)]
    width = figure.bbox.x1
    renderer = figure.canvas.get_renderer()
    assert all(text.get_window_extent(renderer).x1 <= width for text in figure.texts)
    assert is_own(draw_map(strange, tmp_path / "map.png"))
