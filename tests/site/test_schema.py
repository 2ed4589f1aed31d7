"""The JSON schema: current, and of one mind with the reader about what a site file may hold.

`jsonschema` is the outside check: an independent validator of the published draft 2020-12.
"""

import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from runoff.site import site_schema
from tests.lots.rich import RICH, changed

ROOT = Path(__file__).parents[2]
STORED = ROOT / "docs" / "site.schema.json"


def plain(text):
    """What tomllib reads, with dates as text, which is how an editor sees them."""
    return json.loads(json.dumps(tomllib.loads(text), default=str))


def test_it_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(site_schema())


def test_the_stored_schema_is_current():
    assert json.loads(STORED.read_text(encoding="utf-8")) == site_schema()


@pytest.mark.parametrize("name", ["site.toml", "site_from_elevation.toml"])
def test_it_accepts_the_sample(name):
    text = (ROOT / "sample_terrain" / name).read_text(encoding="utf-8")
    jsonschema.validate(plain(text), site_schema())


def test_it_accepts_a_rich_site_file():
    jsonschema.validate(plain(RICH), site_schema())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('units = "ft"', 'units = "feet"'),
        ('observer = "A. Levelman"', 'obsever = "A"'),
        ('name = "north lot"\n', ""),
        ("radius = 6", ""),
        ("at = [46, 20]", "at = [46]"),
        ("at = [46, 20]", "at = 46"),
        ('kind = "basement"', 'kind = "cellar"'),
        ("share = 0.7", "share = 7"),
        ('plan_area = "300 sq ft"', ""),
        ("corners = [[30, 0], [45, 0], [45, 20], [30, 20]]", "corners = [[30, 0], [45, 0]]"),
        ('name = "NE"', 'name = " "'),
        ("rim = 100.5", "sill = 100.5"),
        ('projection = "2 ft 6 in"', ""),
        ("sill = 100.25", "rim = 100.25"),
        ('distance = "22 ft" }', 'distance = "22 ft", out = 1 }'),
        ('from = "3 ft"', "start = 3"),
        ("eave = [[30, 21], [45, 21]]", "eave = 3"),
        ("pit = { return_years = 2 }", 'pit = { return_years = 2, depth = "3 in" }'),
        ('return_years = 25, duration = "10 min"', 'return_years = 25, intensity = "9 in/h"'),
        ('line = { return_years = 25, duration = "10 min" }', "line = {}"),
        ("pit = { return_years = 2 }", "pit = { return_years = 0 }"),
        ('"pitch factor"', '"half"'),
        ('diameter = "8 in", ', ""),
        ('wall = "smooth"', 'wall = "rough"'),
        ('currency = "USD"\n', ""),
        ("pit = { return_years = 2 }", "ponding = { return_years = 2 }"),
        ('texture = "loam"', 'rate = "1 in/h"'),
    ],
)
def test_it_refuses_what_the_reader_refuses(old, new):
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(plain(changed(old, new)), site_schema())


def descriptions_missing(schema):
    tables = [schema, *schema["$defs"].values()]
    return [
        (table.get("title"), name)
        for table in tables
        for name, field in table.get("properties", {}).items()
        if "description" not in field and "$ref" not in field
    ]


def test_every_field_is_described():
    assert descriptions_missing(site_schema()) == []
