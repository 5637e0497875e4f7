"""Tables and result file say what the analysis said."""

from __future__ import annotations

import csv
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray

from fdtd.listening.arrays import derived_arrays
from fdtd.listening.changes import modal_decay
from fdtd.listening.study import Listening, listen
from fdtd.results.result import RunResult
from fdtd.results.store import read_result, write_result
from fdtd.results.tables_csv import write_rows
from fdtd.wording.listening_tables import listening_tables
from listening.damped_runs import DENSITY, Mode, run_of, seats

NAN = float("nan")
DOCUMENTS = Path(__file__).resolve().parents[2] / "docs"


@pytest.fixture(scope="module")
def result() -> RunResult:
    """The second variant lacks the desk."""
    off = [Mode(25.0, 0.9, seats(3e4, 2e4)), Mode(52.0, 0.6, seats(3e4, -3e4)), Mode(55.0, 0.3, seats(1e3, 1e3))]
    on = [Mode(25.0, 0.5, seats(3e4, NAN)), Mode(52.0, 0.4, seats(3e4, NAN))]
    return run_of({"off": off, "on/2": on}, ("sofa", "desk"))


@pytest.fixture(scope="module")
def audible(result: RunResult) -> Listening:
    return listen(result, (45.0,))


@pytest.fixture(scope="module")
def rows(result: RunResult, audible: Listening, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict]]:
    folder, read = tmp_path_factory.mktemp("tables"), {}
    for table in listening_tables(result, audible):
        path = write_rows(folder / table.name, table.columns, table.rows)
        with path.open(newline="", encoding="utf-8") as file:
            read[table.name] = list(csv.DictReader(file))
    return read


def pick(rows: list[dict], **wanted: str) -> dict:
    (one,) = [row for row in rows if all(row[k] == v for k, v in wanted.items())]
    return one


def test_resonances(audible: Listening, rows: dict[str, list[dict]]) -> None:
    off, on = audible.variants
    table = rows["resonances.csv"]
    assert len(table) == 2 * (len(off.resonances.frequency) + len(on.resonances.frequency))
    low = pick(table, resonance="1", variant="off", seat="desk")
    assert float(low["frequency_hz"]) == pytest.approx(off.resonances.frequency[0], rel=1e-5)
    assert float(low["decay_time_s"]) == pytest.approx(off.resonances.decay_time[0], rel=1e-5)
    assert float(low["level_db"]) == pytest.approx(off.seat_level[1, 0], rel=1e-5)
    assert (low["threshold_s"], low["rings_longer"]) == ("", "no published threshold")  # it starts near 29 Hz
    assert pick(table, resonance="1", variant="on/2", seat="desk")["level_db"] == ""
    place = int(np.argmin(np.abs(off.resonances.frequency - 52.0)))
    number = next(n for n, f in enumerate(audible.followed, start=1) if f.numbers[0] == place)
    both = [pick(table, resonance=str(number), variant=v, seat="sofa") for v in ("off", "on/2")]
    assert [row["rings_longer"] for row in both] == ["yes", "no"]  # 0.6 and 0.4 s, limit 0.46 s
    assert float(both[0]["threshold_s"]) == pytest.approx(off.limit[place], rel=1e-5)


def test_decays_with_the_modal_figure_beside(audible: Listening, rows: dict[str, list[dict]]) -> None:
    table = rows["decay.csv"]
    assert len(table) == 3 * len(audible.variants[0].decays[0])
    row = pick(table, variant="off", seat="sofa", band_hz="50")
    band = next(one for one in audible.variants[0].decays[0] if one.band.name == "50")
    assert float(row["t20_s"]) == pytest.approx(band.times.t20.seconds, rel=1e-5)
    assert row["filter_ringing"] == ("yes" if band.ringing else "no")
    # Of the two modes in the band (44.7 to 56.2 Hz, IEC 61260-1) the louder one stands for it.
    assert float(row["modal_frequency_hz"]) == pytest.approx(52.0, abs=0.05)
    assert float(row["modal_decay_s"]) == pytest.approx(0.6, rel=0.01)
    assert pick(table, variant="off", seat="sofa", band_hz="125")["modal_decay_s"] == ""
    assert modal_decay(audible.variants[0], 0, band.band) is not None


def test_unknown_decay_times_have_a_reason(rows: dict[str, list[dict]]) -> None:
    for row in rows["decay.csv"]:
        for name in ("edt", "t20", "t30"):
            assert (row[f"{name}_s"] == "") == (row[f"{name}_unknown_because"] != "")


def test_tails(audible: Listening, rows: dict[str, list[dict]]) -> None:
    table = rows["tail.csv"]
    assert len(table) == 3 * len(audible.tones), "the seat that is not there has no rows"
    row = pick(table, variant="on/2", seat="sofa", tone_hz="45")
    k = int(np.argmin(np.abs(audible.tones - 45.0)))
    figures = audible.variants[1].figures
    assert float(row["time_to_minus_30_db_s"]) == pytest.approx(figures.time_to[0, k, 1], rel=1e-5)
    assert float(row["left_after_200_ms_db"]) == pytest.approx(figures.left[0, k, 1], rel=1e-5)


def test_levels(audible: Listening, rows: dict[str, list[dict]]) -> None:
    table, (off, _) = rows["levels.csv"], audible.variants
    assert [(row["variant"], row["seat"]) for row in table] == [("off", "sofa"), ("off", "desk"), ("on/2", "sofa")]
    assert float(table[1]["pink_noise_a_db"]) == pytest.approx(off.readings[1, 1], rel=1e-5)
    assert off.evenness is not None
    assert float(table[0]["between_seats_mean_deviation_db"]) == pytest.approx(off.evenness.mean_deviation, rel=1e-5)
    assert table[2]["between_seats_mean_deviation_db"] == ""


def test_the_result_file_carries_it_with_axes(result: RunResult, audible: Listening, tmp_path: Path) -> None:
    path = tmp_path / "result.h5"
    write_result(result, path, derived_arrays(audible, DENSITY))
    with h5py.File(path) as file:
        for group in file["variants"].values():
            for name, item in group["listening"].items():
                assert item.attrs["units"] and item.attrs["long_name"], name
                assert item.is_scale or all(len(dim) == 1 for dim in item.dims), name
    with xarray.open_datatree(path, engine="h5netcdf") as tree:
        off = tree["variants/off/listening"]
        assert off["tail_level"].dims == ("seat", "tone", "after_stop")
        assert off["tail_level"].dtype == np.float32
        picture = audible.variants[0].tail.level_db(audible.reference)
        k = int(np.argmin(np.abs(audible.tones - 45.0)))
        there = off["tail_level"].sel(seat="desk", tone=audible.tones[k]).sel(after_stop=0.2, method="nearest").item()
        assert there == pytest.approx(picture[1, k, 200], rel=1e-5)
        assert off["reading"].sel(seat="desk", weighting="A").item() == audible.variants[0].readings[1, 1]
        assert off["resonance_decay"].sel(resonance=1).item() == audible.variants[0].resonances.decay_time[0]
        on = tree["variants/on%2F2/listening"]
        assert bool(on["tail_time"].sel(seat="desk").isnull().all())
        assert np.isnan(on["between_seats_deviation"].item())


def test_the_reader_passes_over_it(result: RunResult, audible: Listening, tmp_path: Path) -> None:
    write_result(result, tmp_path / "r.h5", derived_arrays(audible, DENSITY))
    again = read_result(tmp_path / "r.h5")
    assert np.array_equal(again.variants[0].transfer, result.variants[0].transfer)
    assert [v.name for v in again.variants] == ["off", "on/2"]


def test_a_variant_without_resonances_is_written(tmp_path: Path) -> None:
    result = run_of({"off": [Mode(52.0, 0.5)], "gone": [Mode(52.0, 0.5, ((NAN,),))]})
    write_result(result, tmp_path / "r.h5", derived_arrays(listen(result), DENSITY))
    with h5py.File(tmp_path / "r.h5") as file:
        assert file["variants/gone/listening/resonance_decay"].shape == (0,)


def test_the_documents_name_every_column_and_dataset(result: RunResult, audible: Listening) -> None:
    page = (DOCUMENTS / "listening.md").read_text(encoding="utf-8")
    missing = [c for table in listening_tables(result, audible) for c in table.columns if f"`{c}`" not in page]
    assert missing == []
    layout = (DOCUMENTS / "result-file.md").read_text(encoding="utf-8")
    arrays = derived_arrays(audible, DENSITY)["off"]["listening"]
    assert [one.name for one in arrays if f"`{one.name}`" not in layout] == []
