"""Files that are damaged in any one place end in one clear error or are read well: no traceback, no warning."""

from __future__ import annotations

import random
import re
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from fdtd.errors import ResultFileError
from fdtd.results.placement_layout import LAYOUT
from fdtd.results.placement_reader import read_placement
from fdtd.results.store import read_result, write_result

from .damage import Harm, all_harms, damage
from .stated_file import write_stated
from .test_result_file import DOCUMENT, some_result

QUICK = 40
"""Harms of the quick test, for each kind of file."""
MANY = 2000
"""Harms of the slow test; a result file has fewer, a study more than twice as many."""
SLOWEST = 10.0
"""s that a reader may take."""

Reader = Callable[[Path], object]


@pytest.fixture(scope="module", params=["result", "placement"])
def whole(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Reader]:
    """A small file that is right, and its reader."""
    path = tmp_path_factory.mktemp("whole") / f"{request.param}.h5"
    if request.param == "placement":
        return write_stated(path), read_placement
    write_result(some_result(("bare", "fitted")), path)
    return path, read_result


def outcome(whole: Path, reader: Reader, harm: Harm, target: Path) -> str:
    """'read' or 'refused'; anything else raises."""
    if not damage(whole, target, harm):
        return "not possible"
    start = time.monotonic()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            reader(target)
            found = "read"
        except ResultFileError as error:
            assert str(error).startswith(f"{target}: ") and "\n" not in str(error), harm
            found = "refused"
    assert time.monotonic() - start < SLOWEST, harm
    return found


def test_a_damaged_file_is_refused_or_read(whole: tuple[Path, Reader], tmp_path: Path) -> None:
    path, reader = whole
    reader(path)
    found = [outcome(path, reader, harm, tmp_path / "r.h5") for harm in random.Random(1).sample(all_harms(path), QUICK)]
    assert found.count("refused") > QUICK // 2


@pytest.mark.slow
def test_thousands_of_damages_are_refused_or_read(whole: tuple[Path, Reader], tmp_path: Path) -> None:
    path, reader = whole
    every = all_harms(path)
    some = random.Random(2).sample(every, min(len(every), MANY))
    found = [outcome(path, reader, harm, tmp_path / "r.h5") for harm in some]
    assert found.count("refused") > len(found) // 2 and len(found) > 1500


@pytest.mark.parametrize(
    ("harm", "told"),
    [
        (Harm("all NaN", "frequency"), r"array /frequency: found NaN; expected numbers, 0.1 to 100000 Hz, rising"),
        (Harm("reversed", "time"), r"array /time: found values in another order; expected .*rising in equal steps"),
        (Harm("shorter", "variants/bare/map"), r"map: found 2 x 2 x 7 values; expected 2 x 2 x 8 values \(source, map"),
        (Harm("one axis more", "variants/bare/transfer"), r"transfer: found 2 x 3 x 4 x 1 values; expected 2 x 3 x 4"),
        (Harm("one NaN", "variants/bare/transfer"), r"transfer: found NaN; .*or NaN all along a source or seat"),
        (Harm("all huge", "variants/bare/impulse"), r"impulse: found 1e\+300; expected numbers, at most 1e\+15 Pa"),
        (Harm("text", "variants/bare/source_delay"), r"source_delay: found text; expected numbers, 0 to 10 s"),
        (Harm("compound", "cells/0/volume"), r"volume: found values of type \[\('a'.*; expected numbers, 1e-15 to"),
        (Harm("all negative", "cells/0/index"), r"index: found -1; expected whole numbers from 0 to 3"),
        (Harm("scalar", "cells/0/edge_x"), r"edge_x: found a single value; expected a row of at least 2 values"),
        (Harm("same", "seat"), r"array /seat: found 'sofa' twice; expected texts that are all different"),
        (Harm("group", "source"), r"array /source: found a group; expected an array"),
        (Harm("array", "variants/fitted"), r"group /variants/fitted: found an array; expected a group"),
        (Harm("renamed", "variants/fitted"), r"attribute name of /variants/fittedx: found 'fitted'; expected the name"),
        (Harm("renamed", "cells/0"), r"group /cells: found 0x in it; expected the numbers from 0, without gaps"),
        (Harm("all zero", "variants/fitted", "order"), r"attribute order of .*: found .*; expected"),
        (Harm("text", "/", "density"), r"attribute density of /: found text; expected numbers, 0.001 to 10000 kg/m3"),
        (Harm("all tiny", "/", "density"), r"attribute density of /: found 1e-300; expected numbers, 0.001 to 10000"),
        (Harm("nothing", "/", "title"), r"attribute title of /: found nothing in it; expected a single value"),
        (Harm("exchanged", "variants/bare", "duration_units"), r"units of .*: found '.*'; expected '(s|dB)'"),
    ],
)
def test_the_error_says_where_what_and_what_would_be_right(harm: Harm, told: str, tmp_path: Path) -> None:
    write_result(some_result(("bare", "fitted")), tmp_path / "whole.h5")
    assert damage(tmp_path / "whole.h5", tmp_path / "r.h5", harm)
    with pytest.raises(ResultFileError, match=told) as caught:
        read_result(tmp_path / "r.h5")
    assert re.search(r"copy it again from where it was made, or make it again with 'fdtd run'$", str(caught.value))


def test_a_unit_on_a_place_or_of_a_device_that_is_not_there_is_found(tmp_path: Path) -> None:
    for name, wrong in (("unit_place", 9), ("unit_device", 4)):
        path = write_stated(tmp_path / "placement.h5")
        with h5py.File(path, "r+") as file:
            file["ranking"][name][0, 0] = wrong
        with pytest.raises(ResultFileError, match=rf"array /ranking/{name}: found {wrong}; expected (whole )?numbers"):
            read_placement(path)


def test_variants_that_lack_a_source_or_seat_are_read(tmp_path: Path) -> None:
    write_result(some_result(("bare", "fitted")), tmp_path / "r.h5")
    with h5py.File(tmp_path / "r.h5", "r+") as file:
        for name in ("transfer", "impulse"):
            file[f"variants/bare/{name}"][:, 1] = np.nan
    assert np.isnan(read_result(tmp_path / "r.h5").variants[0].transfer[:, 1]).all()
    with h5py.File(tmp_path / "r.h5", "r+") as file:
        file["variants/bare/impulse"][:, 2] = np.nan  # there, but not in the transfer functions
    with pytest.raises(ResultFileError, match="found NaN for another seat than in the arrays beside it"):
        read_result(tmp_path / "r.h5")


def test_the_document_names_every_array_of_a_study() -> None:
    text = DOCUMENT.read_text(encoding="utf-8").split("## `placement.h5`")[1]
    words = set(re.findall(r"[a-z_]+", text))
    helpers = {"axis", "unit", "rank", "trial", "count", "design", "spot", "meeting"}  # scales that only count
    ends = ("_nominal", "_low", "_middle", "_high")  # written once for all
    for group in LAYOUT.values():
        for name in set(group.arrays) - helpers:
            assert name in words or any(f"{name.removesuffix(end)}_" in words for end in ends), name


def test_a_study_holds_names_and_choices_but_no_sentences() -> None:
    names = {"scene", "source", "seat", "device", "on", "surface", "beside"}
    told = [(n, e) for group in LAYOUT.values() for n, e in group.arrays.items() if e.kind == "text"]
    assert {name for name, entry in told if not entry.choices and not entry.fixed} == names
