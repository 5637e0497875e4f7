"""Tables for spreadsheets: names that would run as formulas don't, numbers stay numbers."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from fdtd.results.tables_csv import write_responses_csv, write_rows

from .test_result_file import some_result

FORMULAS = ('=HYPERLINK("x")', "+1+2", "-2+3", "@SUM(1)", "\t=1", "＝1")


def rows_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize("name", FORMULAS)
def test_a_name_is_not_worked_out(name: str, tmp_path: Path) -> None:
    path = write_rows(tmp_path / "t.csv", ("name", "value"), [(name, -1.5), ("sofa = best", float("nan"))])
    assert rows_of(path)[1:] == [[f"'{name}", "-1.5"], ["sofa = best", ""]]


def test_numbers_that_come_as_text_stay_numbers(tmp_path: Path) -> None:
    assert rows_of(write_rows(tmp_path / "t.csv", ("a", "b"), [("-1.25e-3", "+4")]))[1] == ["-1.25e-3", "+4"]


def test_the_responses_are_written_by_the_same_rule(tmp_path: Path) -> None:
    result = some_result()
    result = replace(result, variants=(replace(result.variants[0], name="=1+1"), *result.variants[1:]))
    write_responses_csv(result, tmp_path / "responses.csv")
    rows = rows_of(tmp_path / "responses.csv")
    assert rows[1][0] == "'=1+1" and any(row[5].startswith("-") for row in rows)
