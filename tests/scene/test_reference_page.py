"""docs/scene.md says what the reader does: its tables are made from the reader's fields, its examples are read."""

from __future__ import annotations

import re
from pathlib import Path

from fdtd.cli.pages import refreshed
from fdtd.scene.read import read_scene_text
from fdtd.scene.reference import PARTS
from fdtd.scene.tables import TABLES

PAGE = (Path(__file__).parents[2] / "docs" / "scene.md").read_text(encoding="utf-8")


def test_tables_are_fresh():
    assert refreshed(PAGE, PARTS) == PAGE, "run: python -m fdtd.cli.pages docs/"


def test_every_table_of_fields_has_its_place():
    assert set(re.findall(r"<!-- keys: (\w+) -->", PAGE)) == set(TABLES)


def test_smallest_scene_is_read():
    block = re.search(r"```toml\n(scene = 1.*?)```", PAGE, re.DOTALL)
    assert block and read_scene_text(block[1]).variants[0].name == "as described"
