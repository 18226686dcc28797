"""The starter design is a design, and explains every key there is."""

import re

from bowfem.cli.starter import STARTER
from bowfem.design import Design
from bowfem.design.fields import Group, Rows, fields_of


def keys(part: type) -> set[str]:
    found = set()
    for field in fields_of(part):
        found.add(field.key)
        if isinstance(field.spec, Group | Rows):
            found |= keys(field.spec.part)
    return found


def test_starter_reads():
    assert Design.from_toml(STARTER).pipe.name == "3/4 in Sch 40"


def test_starter_names_every_key():
    words = set(re.findall(r"[a-z_]+", STARTER))
    assert {key for key in keys(Design) if key not in words} == set()
    assert len(keys(Design)) > 30
