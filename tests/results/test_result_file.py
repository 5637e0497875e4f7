"""The result file: nothing is lost on the way, other programs can read it, and bad files are refused with a remedy."""

from __future__ import annotations

import csv
import dataclasses
import re
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
import xarray
from hypothesis import given
from hypothesis import strategies as st

from fdtd.errors import ResultFileError, UnwritableError
from fdtd.results import files, store
from fdtd.results.layout import group_name
from fdtd.results.placement_record import Unit
from fdtd.results.result import CellGrid, RunResult, UnitResult, VariantResult
from fdtd.results.store import read_result, write_result
from fdtd.results.tables_csv import write_responses_csv

FREQUENCY = np.array([10.0, 50.0, 100.0, 200.0])
DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "result-file.md"


def some_cells(count: int = 4) -> CellGrid:
    edges = (np.linspace(0.0, 1.0, count + 1), np.array([0.0, 0.5, 1.0]), np.array([0.0, 2.0]))
    index = np.array([(i, j, 0) for i in range(count) for j in range(2)], dtype=np.int32)
    return CellGrid(edges, index, np.linspace(0.1, 0.2, len(index)))


def some_unit(name: str, bands: int) -> UnitResult:
    level = np.linspace(90.0, 110.0, bands)
    return UnitResult(name, 0.8, 2.5, 61.0, 0.7, 1.0, np.geomspace(20.0, 160.0, bands), level, np.full(bands, np.nan))


def some_variant(name: str, seed: int, cells: CellGrid, missing_source: bool = False) -> VariantResult:
    random = np.random.default_rng(seed)

    def values(*shape: int) -> np.ndarray:
        return random.normal(size=shape) + 1j * random.normal(size=shape)

    transfer, maps = values(2, 3, 4), values(2, 2, len(cells.volume)).astype(np.complex64)
    impulse, settings = random.normal(size=(2, 3, 5)), np.array([[0.0, -3.0], [0.0, 0.002], [1.0, -1.0]])
    playback, map_playback = values(2, 4), values(2, 2)
    if missing_source:
        for array in (transfer, maps, impulse, settings.T, playback, map_playback):
            array[1] = np.nan
    return VariantResult(
        name,
        transfer,
        impulse,
        maps,
        cells,
        *settings,
        playback,
        map_playback,
        "quiet",
        1.25,
        1000 + seed,
        (Unit(3, "trap", 0.75), Unit(11, "second trap", 1.0)) if seed % 2 else (),
        (some_unit("a", 3), some_unit("b/b", 10)) if seed % 2 else (),
    )


def some_result(names: tuple[str, ...] = ("bare", "fitted")) -> RunResult:
    variants = tuple(some_variant(name, k, some_cells()) for k, name in enumerate(names))
    return RunResult(
        "Room Ä",
        'scene = 1\ntitle = "Room Ä"\n',
        "1.2.3",
        "2026-01-02T03:04:05Z",
        "ab" * 32,
        343.2,
        1.204,
        1.5e-4,
        0.1,
        200.0,
        "single",
        ("left", "right"),
        ("sofa", "desk", "door"),
        FREQUENCY,
        np.arange(5) * 1e-3,
        np.array([25.0, 60.0]),
        variants,
    )


def assert_equal(a: Any, b: Any) -> None:
    """Equal in every field, NaN equal to NaN."""
    assert type(a) is type(b)
    if dataclasses.is_dataclass(a):
        for field in dataclasses.fields(a):
            assert_equal(getattr(a, field.name), getattr(b, field.name))
    elif isinstance(a, tuple):
        assert len(a) == len(b)
        for x, y in zip(a, b, strict=True):
            assert_equal(x, y)
    elif isinstance(a, np.ndarray):
        assert a.dtype == b.dtype
        np.testing.assert_array_equal(a, b)
    else:
        assert a == b or (a != a and b != b)


def test_a_round_trip_loses_nothing(tmp_path: Path) -> None:
    result = some_result(("bare", "fitted", "a third"))
    lacking = some_variant("one source", 9, some_cells(7), missing_source=True)
    result = dataclasses.replace(result, variants=(*result.variants, lacking))
    write_result(result, tmp_path / "new" / "result.h5")
    assert_equal(read_result(tmp_path / "new" / "result.h5"), result)


def test_variants_keep_their_order_and_odd_names(tmp_path: Path) -> None:
    names = ("z", "a/b", "a%2Fb", "a%252Fb", ".", "..", "50 % open", "$x^2$ 'q'", "größer 🙂", "", "%", "x" * 300)
    write_result(some_result(names), tmp_path / "r.h5")
    assert tuple(v.name for v in read_result(tmp_path / "r.h5").variants) == names
    with h5py.File(tmp_path / "r.h5") as file:
        assert {g.attrs["name"] for g in file["variants"].values()} == set(names)
        assert file["variants/50 % open"].attrs["name"] == "50 % open"
        assert file["variants/a%2Fb"].attrs["name"] == "a/b"


@given(st.text(), st.text())
def test_group_names_are_distinct_and_legal(a: str, b: str) -> None:
    for name in (a, b):
        link = group_name(name)
        assert link and "/" not in link and "\0" not in link and link.strip(".") != ""
    assert (group_name(a) == group_name(b)) == (a == b)


@given(st.from_regex(r"[A-Za-z0-9 ,+&()-]{1,30}", fullmatch=True))
def test_ordinary_names_are_the_group_name(name: str) -> None:
    assert group_name(name) == name


def test_two_variants_of_one_name_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ResultFileError, match="same name"):
        write_result(some_result(("a", "a")), tmp_path / "r.h5")
    assert list(tmp_path.iterdir()) == []


def test_variants_of_the_same_cells_share_them(tmp_path: Path) -> None:
    result = some_result(("a", "b"))
    other = some_variant("c", 3, some_cells(5))
    write_result(dataclasses.replace(result, variants=(*result.variants, other)), tmp_path / "r.h5")
    with h5py.File(tmp_path / "r.h5") as file:
        assert list(file["cells"]) == ["0", "1"]
        assert [file[f"variants/{name}"].attrs["cells"] for name in "abc"] == ["/cells/0", "/cells/0", "/cells/1"]
    a, b, _ = read_result(tmp_path / "r.h5").variants
    assert a.cells is b.cells


def test_every_dataset_says_its_unit_meaning_and_axes(tmp_path: Path) -> None:
    write_result(some_result(), tmp_path / "r.h5")
    seen = []

    def check(name: str, item: Any) -> None:
        if isinstance(item, h5py.Dataset):
            seen.append(name)
            assert item.attrs["units"] and item.attrs["long_name"], name
            if not item.is_scale:
                assert all(len(dim) == 1 for dim in item.dims), name

    with h5py.File(tmp_path / "r.h5") as file:
        file.visititems(check)
        assert file["variants/bare/transfer"].dtype == np.complex128
        assert file["variants/bare/map"].dtype == np.complex64
        assert file["variants/bare/map"].dims[2][0] == file["variants/bare/cell"]
        assert file.attrs["density_units"] == "kg/m3"
    assert (
        len(seen) == 6 + 2 * (9 + 4) + 7 + 2 * 3
    )  # root, two variants with their placed units, one group of cells, two units


def test_xarray_reads_it_with_named_axes(tmp_path: Path) -> None:
    result = some_result()
    write_result(result, tmp_path / "r.h5")
    with xarray.open_dataset(tmp_path / "r.h5", engine="h5netcdf") as root:
        assert root.attrs["format"] == 4
        assert list(root["seat"].values) == list(result.seats)
    with xarray.open_datatree(tmp_path / "r.h5", engine="h5netcdf") as tree:
        transfer = tree["variants/fitted"]["transfer"]
        assert transfer.dims == ("source", "seat", "frequency")
        assert transfer.attrs["units"] == "Pa/(m3/s)"
        value = transfer.sel(source="right", seat="desk", frequency=100.0).item()
        assert value == result.variants[1].transfer[1, 1, 2]
        assert tree["variants/bare"]["map"].dims == ("source", "map_frequency", "cell")
        assert tree["cells/0"]["volume"].sizes == {"cell": 8}


def test_the_examples_in_the_document_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    result = some_result()
    write_result(result, tmp_path / "result.h5")
    monkeypatch.chdir(tmp_path)
    examples = re.findall(r"```python\n(.*?)```", DOCUMENT.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert len(examples) == 2
    for example in examples:
        exec(compile(example, str(DOCUMENT), "exec"), {})
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines] == ["bare", "fitted", "bare", "fitted"]
    level = 20 * np.log10(np.abs(result.variants[0].transfer[0, 0]) / (FREQUENCY * 1.204 / 2))
    assert float(lines[0].split()[1]) == pytest.approx(level.max(), abs=1e-9)
    assert complex(lines[2].split()[1]) == result.variants[0].transfer[0, 0, 1]


def test_the_document_names_everything_in_the_file(tmp_path: Path) -> None:
    write_result(some_result(), tmp_path / "r.h5")
    text = DOCUMENT.read_text(encoding="utf-8")
    names: set[str] = set()
    with h5py.File(tmp_path / "r.h5") as file:
        names.update(n for n in file.attrs if not n.endswith("_units"))
        names.update(f"/{n}" for n, item in file.items() if isinstance(item, h5py.Dataset))
        names.update(file["variants/bare"], set(file["variants/bare"].attrs) - {"duration_units"})
        names.update(set(file["cells/0"]) - {"axis"})
    assert sorted(n for n in names if f"`{n}`" not in text) == []


@pytest.mark.parametrize("keep", [0.02, 0.3, 0.6, 0.9, 0.999])
def test_a_truncated_file_is_refused(tmp_path: Path, keep: float) -> None:
    path = tmp_path / "r.h5"
    write_result(some_result(), path)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(keep * len(whole))])
    with pytest.raises(ResultFileError, match=r"damaged or cut short .*fdtd run"):
        read_result(path)


def test_other_files_are_refused_with_a_remedy(tmp_path: Path) -> None:
    with pytest.raises(ResultFileError, match=r"none\.h5: there is no such file; .*'fdtd run'"):
        read_result(tmp_path / "none.h5")
    with pytest.raises(ResultFileError, match="it is a folder"):
        read_result(tmp_path)
    (tmp_path / "text.h5").write_text("hello")
    with pytest.raises(ResultFileError, match="not HDF5"):
        read_result(tmp_path / "text.h5")
    with h5py.File(tmp_path / "other.h5", "w") as file:
        file["x"] = 1
    with pytest.raises(ResultFileError, match="not a result file of this program"):
        read_result(tmp_path / "other.h5")


def test_another_format_number_is_refused(tmp_path: Path) -> None:
    write_result(some_result(), tmp_path / "r.h5")
    for number in (1, 7):  # 1 is the earlier format, without the playback factors
        with h5py.File(tmp_path / "r.h5", "a") as file:
            file.attrs["format"] = number
            if number == 1:
                del file["variants/bare/playback"]
        written = r"of a result file, written by version 1\.2\.3; this version reads format 4"
        words = rf"format {number} {written}; .*run the scene again"
        with pytest.raises(ResultFileError, match=words):
            read_result(tmp_path / "r.h5")


@pytest.mark.parametrize("lost", ["frequency", "variants/bare/transfer", "cells/0/index", "variants"])
def test_a_file_with_something_missing_is_refused(tmp_path: Path, lost: str) -> None:
    write_result(some_result(), tmp_path / "r.h5")
    with h5py.File(tmp_path / "r.h5", "a") as file:
        del file[lost]
    with pytest.raises(ResultFileError, match="damaged"):
        read_result(tmp_path / "r.h5")


def test_a_failed_write_keeps_the_old_file_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "r.h5"
    write_result(some_result(("old",)), path)

    def fail(*_: Any) -> None:
        raise OSError("no room on the disk")

    monkeypatch.setattr(store, "_write_variants", fail)
    with pytest.raises(UnwritableError, match=r"r\.h5: cannot be written: no room on the disk"):
        write_result(some_result(("new",)), path)
    assert [p.name for p in tmp_path.iterdir()] == ["r.h5"]
    assert read_result(path).variants[0].name == "old"


def test_an_interrupted_write_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), files.replaced_file(tmp_path / "x.txt") as temporary:
        temporary.write_text("half")
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_the_table_holds_every_response(tmp_path: Path) -> None:
    result = some_result(("bare", 'say "hi", ok'))
    lacking = some_variant("one source", 5, some_cells(), missing_source=True)
    result = dataclasses.replace(result, variants=(*result.variants, lacking))
    write_responses_csv(result, tmp_path / "responses.csv")
    with (tmp_path / "responses.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == "variant source seat frequency_hz level_db phase_deg real imag".split()
    assert len(rows) == (2 * 2 + 1) * 3 * 4
    assert {r["source"] for r in rows if r["variant"] == "one source"} == {"left"}
    row = next(
        r
        for r in rows
        if (r["variant"], r["source"], r["seat"], r["frequency_hz"]) == ('say "hi", ok', "right", "door", "100")
    )
    value = result.variants[1].transfer[1, 2, 2]
    assert complex(float(row["real"]), float(row["imag"])) == pytest.approx(value, rel=1e-9)
    assert float(row["phase_deg"]) == pytest.approx(np.degrees(np.angle(value)), abs=1e-6)
    # Free field at 1 m: omega rho / (4 pi) at 100 Hz is 60.2 Pa per m³/s for 1.204 kg/m³.
    assert float(row["level_db"]) == pytest.approx(20 * np.log10(abs(value) / 60.2), abs=1e-6)
