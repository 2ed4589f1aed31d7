"""What was found on the ground is told as closely as the ground tells it, and no closer.

Low spots and the rain that fills them are those of the surveyed surface to about 2 %. Held here on
the printed pages: no found figure has more than two figures, or three from a 1 on, and each is that
of the record; what was given (storm, roofs) stands as it was given.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import runoff
from runoff.data import findings_to_dict
from runoff.inspection import Findings, inspect
from runoff.quantities import as_found
from runoff.report import summary_text
from runoff.sample import sample_folder
from runoff.words import found_rain, opening_sentence, soil_sentence

FOOT, INCH = 0.3048, 0.0254


def figures_of(written: str) -> str:
    """The significant figures of a number as written; trailing zeros of a whole one left out."""
    digits = written.replace(".", "").lstrip("0")
    return digits if "." in written else digits.rstrip("0") or "0"


@given(st.floats(1e-6, 1e9))
def test_a_found_figure_is_off_by_a_fortieth_at_most(value: float) -> None:
    # Two figures: half a step of 1 in 20 at worst; three from 1 to 2: half of 1 in 100.
    told = as_found(value)
    lead = value / 10 ** math.floor(math.log10(value))
    assert abs(told - value) <= value * (0.005 if lead < 2 else 0.025) * 1.001
    assert as_found(told) == pytest.approx(told, rel=0.006)
    figures = figures_of(f"{told:.3g}" if 1e-3 < told < 1e3 else f"{told:.2e}".split("e")[0])
    assert len(figures.rstrip("0")) <= (3 if figures[0] == "1" else 2)


@given(st.floats(0.001, 1.0), st.floats(0.001, 1.0), st.sampled_from(["ft", "m"]))
def test_no_rounding_carries_a_rain_past_the_storm(rain: float, storm: float, units: str) -> None:
    """Unless three figures of it are those of the storm."""
    site = SimpleNamespace(units=units, storm=SimpleNamespace(depth=storm))
    told = float(found_rain(site, rain).split()[0]) * (INCH if units == "ft" else 0.001)
    assert (told - storm) * (rain - storm) >= 0 or abs(rain - storm) <= 0.005 * storm


@pytest.fixture(scope="module", params=["ft", "m"])
def findings(request) -> Findings:
    site = runoff.read_site(sample_folder() / "site.toml")
    return inspect(site if request.param == "ft" else replace(site, units="m"))


def test_the_low_spots_of_the_sample_are_told_in_two_figures(findings: Findings) -> None:
    """In the table of the summary, against the record; the JSON keeps all figures."""
    page = summary_text(findings, width=220)
    page = page[page.index("Low spots on the lot") :]
    metric = findings.site.units == "m"
    area, volume, rain = ("m2", "m3", "mm") if metric else ("sq ft", "cu ft", "in")
    sizes = (1.0, 1.0, 0.001) if metric else (FOOT**2, FOOT**3, INCH)
    told = 0
    for spot in findings.low_spots:
        row = re.search(rf"{spot.name} .*", page)
        if not spot.on_lot or row is None:
            continue
        for unit, size, record in zip(
            (area, volume, f"{rain} of rain"),
            sizes,
            (spot.area_m2, spot.volume_m3, spot.rain_to_fill_m),
            strict=True,
        ):
            number = re.search(rf"(under )?([\d.]+) {unit}", row[0])
            if number is None or number[1]:
                continue
            told += 1
            figures = figures_of(number[2])
            assert len(figures) <= (3 if figures[0] == "1" else 2), row[0]
            coarse = spot.area_m2 * findings.site.height_accuracy.sigma if "cu" in unit else 0.0
            assert float(number[2]) * size == pytest.approx(record, rel=0.026, abs=coarse)
    assert told >= 3
    kept = [each["rain_to_fill_m"] for each in findings_to_dict(findings)["low_spots"]]
    assert any(rain is not None and as_found(rain / INCH) * INCH != rain for rain in kept)


def test_soil_to_bring_is_told_in_two_figures(findings: Findings) -> None:
    placed = [each for each in findings.at_the_wall.wedges if each.loose_m3 > 0]
    assert placed
    for wedge in placed:
        sentence = soil_sentence(findings.site, wedge)
        told = re.search(r"Bring ([\d.]+) (cu ft|m3) .*?\(([\d.]+)", sentence)
        size = FOOT**3 if told[2] == "cu ft" else 1.0
        for written, record in ((told[1], wedge.loose_m3), (told[3], wedge.compacted_m3)):
            figures = figures_of(written)
            assert len(figures) <= (3 if figures[0] == "1" else 2), sentence
            assert float(written) * size == pytest.approx(record, rel=0.026)


def test_openings_are_told_in_two_figures_and_the_storm_as_it_was_given(findings: Findings) -> None:
    said = [each for each in findings.at_the_wall.openings if math.isfinite(each.rain_to_reach_m)]
    assert said
    for opening in said:
        sentence = opening_sentence(findings.site, opening)
        assert found_rain(findings.site, findings.site.storm.depth) in sentence
        reached = re.search(r"at ([\d.]+) (?:in|mm) of rain", sentence)[1]
        figures = figures_of(reached)
        assert len(figures) <= (3 if figures[0] == "1" else 2), sentence
