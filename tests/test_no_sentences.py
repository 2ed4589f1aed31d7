"""Records of the rooms of facts hold codes, names and figures: no sentence stands in them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

import runoff
from runoff.site import Notice, Site
from tests.lots.planned import WRITTEN, planned

PACKAGE = Path(runoff.__file__).parent
FACTS = ("site", "terrain", "roof", "flow", "foundation")
MOST_WORDS = 3
# What the user typed, and where: names, notes, paths; and what the rules quote of their sources.
TYPED = {
    (Site, "address"),
    (Site, "observer"),
    (Site, "weather"),
    (Site, "notes"),
    (Site, "rules"),
    (Site, "photographs"),
    (Notice, "names"),
    (Notice, "text"),
}
TYPED_ANYWHERE = {"written", "remark", "note", "says", "condition", "permission", "caption"}


def codes() -> set[str]:
    """Every string that a `Literal` of these rooms declares."""
    found = set()
    for room in FACTS:
        for file in (PACKAGE / room).rglob("*.py"):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "Literal":
                    found |= {
                        each.value
                        for each in ast.walk(node.slice)
                        if isinstance(each, ast.Constant) and isinstance(each.value, str)
                    }
    return found


CODES = codes()


def typed(record: Any, field: str) -> bool:
    """Whether a field holds what the user wrote, or the place where it was written."""
    named = field == "name" and type(record).__module__ == Site.__module__
    return named or (type(record), field) in TYPED or field in TYPED_ANYWHERE


def texts(value: Any, where: str, seen: set[int]) -> Iterator[tuple[str, str]]:
    """Every text within a record, with the field that holds it."""
    if isinstance(value, str):
        yield where, value
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from texts(key, where, seen)
            yield from texts(each, where, seen)
    elif isinstance(value, tuple | list | set | frozenset):
        for each in value:
            yield from texts(each, where, seen)
    elif is_dataclass(value) and id(value) not in seen:
        seen.add(id(value))
        for field in fields(value):
            if not typed(value, field.name):
                name = f"{type(value).__name__}.{field.name}"
                yield from texts(getattr(value, field.name), name, seen)


def sentences(value: Any) -> set[tuple[str, str]]:
    """Texts of more words than a name or a short code has, with the field that holds each."""
    return {
        (where, text)
        for where, text in texts(value, "", set())
        if len(text.split()) > MOST_WORDS and text not in CODES
    }


@pytest.mark.parametrize("lot", [*WRITTEN, 11, 20])
def test_no_record_holds_a_sentence(lot):
    plan = planned(lot)
    assert sentences((plan.findings, plan.drainage, plan.take_offs)) == set()


def test_a_sentence_is_seen():
    assert sentences(Notice("storm", file="the ground falls away from the house"))
    assert not sentences(Notice("pond at the limit", ("a name of any length that was typed",)))
