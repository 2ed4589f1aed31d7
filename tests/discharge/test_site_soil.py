"""Which of the things known of a soil its rate comes from, and soils that take no pit."""

import pytest

from runoff.discharge import percolation_soil, soil_of
from runoff.site import Percolation, Soil, TrialPit, trial_pit_rate
from tests.discharge.refusals import refused
from tests.lots.ponds import a_site

PIT = TrialPit(1.60, 0.60, 0.65, (3000.0, 4020.0, 3900.0))
TEST = Percolation(0.1016, 600.0, 0.2032, 0.3048, "shaft")


def found(**soil):
    return soil_of(a_site(soil=Soil(**soil)))


def test_a_trial_pit_counts_by_its_slowest_filling():
    # BRE Digest 365, a published calculation: 3.24e-5 m/s (3.247e-5, cut); the factor is 2.
    rate = found(trial_pit=PIT)
    assert rate.soil.rate_m_per_s == trial_pit_rate(1.60, 0.60, 0.65, 4020)
    assert rate.rate_m_per_s == pytest.approx(3.247e-5 / 2, rel=1e-3)
    assert rate.warnings == ()


@pytest.mark.parametrize("form", ["shaft", "county form"])
def test_a_percolation_test_by_the_form_named(form):
    test = Percolation(0.0127, 600.0, 0.2032, 0.3048, form)
    expected = percolation_soil(0.0127, 600.0, 0.2032, 0.3048, form)
    rate = found(percolation=test)
    assert rate.soil == expected
    assert ("county form" in [each.code for each in rate.warnings]) == (form == "county form")


def test_what_was_measured_comes_before_the_texture():
    assert found(rate=2e-5, texture="loam").soil.rate_m_per_s == 2e-5
    assert found(trial_pit=PIT, texture="loam").warnings == ()
    assert found(percolation=TEST, texture="loam").warnings == ()
    assert found(texture="loam").warnings[0].code == "texture alone"


def test_an_unknown_soil_is_to_be_tested_first():
    with refused("test the soil first: nothing is known"):
        found()


def test_only_expansive_soil_is_refused_for_it():
    with refused("expansive"):
        found(rate=2e-5, expansive=True)
    assert found(rate=2e-5, texture="clay", expansive=False).warnings == ()
    assert found(rate=2e-5, texture="clay").warnings[0].code == "maybe expansive"
    assert found(rate=2e-5, texture="sand").warnings == ()


@pytest.mark.parametrize(("units", "shown"), [("ft", "0.142 in/h"), ("m", "3.6 mm/h")])
def test_too_slow_soil_is_refused_in_the_site_s_units(units, shown):
    # Buckinghamshire guidance: f at least 1e-6 m/s.
    assert soil_of(a_site(units=units, soil=Soil(rate=1e-6))).rate_m_per_s == 5e-7
    slow = a_site(units=units, soil=Soil(rate=0.99e-6))
    with refused(f"below the {shown} that a seepage pit needs", slow):
        soil_of(slow)
