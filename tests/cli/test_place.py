"""`fdtd place` on a small room with the real solver: its advice, its files, what is reused, what is refused."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from types import SimpleNamespace

import h5py
import numpy as np
import pytest
from placement_scene import SCENE

import fdtd.ports.candidates as measuring
from fdtd.cli.place_tables import format_placement
from fdtd.placement.steps import gained
from fdtd.placement.study import Design
from fdtd.results.placement_reader import read_placement
from fdtd.results.placement_record import PlaceConfidence, Spread, Sureness, UnitsConfidence
from fdtd.results.store import read_result
from fdtd.scene.read import read_scene
from fdtd.study import decide, place_answer
from fdtd.study.finished import FinishedPlacement, finished
from fdtd.study.perturb import Doubt
from fdtd.study.place import PlacementStudy, place, units_of
from fdtd.study.robust import Robustness
from fdtd.study.shortlist import Scores
from fdtd.study.sure import safest
from fdtd.wording import advice, units
from fdtd.wording.answer import how_many
from fdtd.wording.designs import design_text
from fdtd.wording.names import END, NAME, TYPED, on_screen
from fdtd.wording.places import height_text, place_text

QUICK = ("--no-robust", "--no-confirm", "--no-figures")
Command = Callable[..., int]


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The scene file, in an empty folder that the command starts in."""
    path = tmp_path / "small.toml"
    path.write_text(SCENE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return path


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> PlacementStudy:
    path = tmp_path_factory.mktemp("scene") / "small.toml"
    path.write_text(SCENE, encoding="utf-8")
    return place(read_scene(path))


def no_simulation(*_: object, **__: object) -> None:
    raise AssertionError("simulated again")


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert not any(mark in str(found) for mark in (NAME, TYPED, END))
    return found


def test_advice_tables_and_files(fdtd: Command, room: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fdtd("place", str(room), "--perturbed-rooms", "2", "--out", "trial", "--no-confirm", "--no-figures") == 0
    out = capsys.readouterr().out
    assert out.startswith("Small room: where to put 'low' or 'high'\n\n")
    for told in (
        "The best that one of each reaches:",
        "n cells of 0.1 m",
        "Only 2 rooms: a rough",
        "ut ",
        "resonances decay",
        "of 0.45 m",
        "One unit: put it at spot ",
        "At 'stool' ",
        "At 'bench' ",
        "Two units:",
        "In short: ",
        "Uncertainty: from 2 ",
        "excitations simulated",
        "Who wants",
        "Is the loudest place the best?",
        "electrician",
    ):
        assert told in out, told
    assert max(len(line) for line in out.splitlines()) <= 120
    folder = Path("trial")
    single = rows(folder / "placement.csv")
    benefit = [float(row["benefit_db"]) for row in single]
    assert benefit == sorted(benefit, reverse=True) and len({row["place"] for row in single}) == len(single) / 2
    known = read_placement(folder / "placement.h5").sureness
    assert known is not None and f"put it at spot {safest(known.singles).unit.place} (" in out
    with h5py.File(folder / "placement.h5") as file:
        places = len(file["place"])
        assert len(single) == 2 * places  # two kinds of unit
        assert file["places_from_places"].shape == (len(file["frequency"]), places, places)
        assert file["scene"].asstr()[()] == SCENE
        assert file["singles/benefit"][:] == pytest.approx(benefit, abs=1e-5)
        assert file["singles/unit_place"][0] == int(single[0]["place"])
        assert file["counts/count"][:].tolist() == [0, 1, 2]
        assert file["counts/unit_place"][0].tolist() == [0, 0]
        assert file["sure/counts/audible"].shape == (2,)
    record = read_placement(folder / "placement.h5")
    assert [r.benefit for r in record.ranked[:1]] == pytest.approx(benefit[:1], abs=1e-5)
    assert [place.number for place in record.places] == list(range(1, places + 1))
    assert f"{record.searched[0].tried:,} designs" in out
    assert (
        [c.count for c in record.counts] == [1, 2]
        and record.sureness is not None
        and record.sureness.perturbed_rooms == 2
    )
    assert record.answer is not None and len(record.answer.units) == max(record.answer.worthwhile, 1)
    assert record.meter is not None and {one.level.shape for one in record.levels} == {(len(record.frequency), 2)}


@pytest.mark.slow
def test_the_whole_command(fdtd: Command, room: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert fdtd("place", str(room), "--perturbed-rooms", "2") == 0
    assert "Tried by simulations with the units in:" in capsys.readouterr().out
    folder = Path("small-results")
    for name in (
        "spots.png",
        "placement-ranking.png",
        "placement-plan.png",
        "placement-count.svg",
        "placement-response.png",
        "loudest.png",
    ):
        assert (folder / name).stat().st_size > 1000
    assert (folder / "captions.txt").read_text("utf-8").count("Caption:") == 5
    record = read_placement(folder / "placement.h5")
    assert {trial.kind for trial in record.trials} == {"face", "built"}
    winner = read_result(folder / "winner" / "result.h5")
    assert winner.precision == "double"  # the study's own is single, in which slow decays end in rounding
    assert winner.variants[0].placed == () and winner.variants[1].placed == record.answer.units  # type: ignore[union-attr]
    assert winner.map_frequency == pytest.approx([record.meter.tone.frequency])  # type: ignore[union-attr]
    assert fdtd("report", str(folder / "placement.h5")) == 0
    page = (folder / "report.html").read_text("utf-8")
    assert "Predictions against simulations" in page and "Decay and tail" in page
    assert f'data-of="predicted">{record.trials[0].predicted:.2f}' in page


def test_the_file_holds_enough_to_work_out_a_design(fdtd: Command, room: Path) -> None:
    """The port formula, p = p0 - G D (1 + Z D)^-1 z, on the arrays of the file gives the unevenness that it tells."""
    assert fdtd("place", str(room), "--precision", "double", *QUICK) == 0
    with h5py.File("small-results/placement.h5") as file:
        f = file["frequency"][:]
        number, device = (int(file["singles"][name][0]) for name in ("unit_place", "unit_device"))
        at = file["place"][:].tolist().index(number)
        y = file["admittance"][device, 0, :, at]
        factor = file["playback"][0]
        untreated, driven = (
            file["seats_from_sources"][:, 0] * factor[:, None],
            file["places_from_sources"][:, 0, at] * factor,
        )
        flow = y * driven / (1.0 + y * file["places_from_places"][:, at, at])
        power = np.abs(untreated - flow[:, None] * file["seats_from_places"][:, at]) ** 2
        told = float(file["singles/uneven"][0])
    inside = (f >= 20.0) & (f <= 160.0)
    f, power = f[inside], power[inside]
    near = [np.flatnonzero(np.abs(np.log2(f / at)) <= 1.0 / 12.0 + 1e-9) for at in f]
    near = [k if len(k) > 1 else np.array([n, n + 1]) for n, k in enumerate(near)]
    level = 10.0 * np.log10([np.trapezoid(power[k], f[k], axis=0) / np.ptp(f[k]) for k in near])
    weight = np.gradient(np.log(f))
    weight[[0, -1]] *= 0.5
    weight *= np.sin(0.5 * np.pi * np.clip(3.0 * np.log2(np.minimum(f / f[0], f[-1] / f)), 0.0, 1.0)) ** 2
    weight /= weight.sum()
    mean = weight @ level
    assert np.sqrt(weight @ (level - mean) ** 2).mean() == pytest.approx(told, abs=1e-3)


def test_other_devices_and_gains_reuse_the_matrices(
    fdtd: Command, room: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert fdtd("place", str(room), *QUICK) == 0
    first = capsys.readouterr().out
    assert "excitations simulated" in first
    other = SCENE.replace('["low", "high"]', '["low"]').replace("[1.0]", "[1.0]\nseat_weights = { bench = 3 }")
    room.write_text(other.replace("count = 2", "count = 1").replace("at = [2.7", "level = -3\nat = [2.7"), "utf-8")
    with monkeypatch.context() as patch:
        patch.setattr(measuring, "measure", no_simulation)
        assert fdtd("place", str(room), *QUICK) == 0
        second = capsys.readouterr().out
    excitations = len(rows(Path("small-results/placement.csv"))) + 1
    assert f"{excitations} of {excitations} excitations reused from small-results" in second
    room.write_text(SCENE.replace("at = [0.6, 1.6", "at = [0.7, 1.6"), encoding="utf-8")  # a seat moves
    assert fdtd("place", str(room), *QUICK) == 0
    assert "excitations simulated" in capsys.readouterr().out


def test_a_study_that_was_stopped_goes_on(
    fdtd: Command, room: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(measuring, "BATCH", 3)
    measure, count = measuring.measure, [0]

    def some(*given: object, **more: object) -> object:
        count[0] += 1
        if count[0] == 3:
            raise KeyboardInterrupt
        return measure(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(measuring, "measure", some)
    assert fdtd("place", str(room), *QUICK) == 130
    assert not Path("small-results/placement.h5").exists()
    assert len(list(Path("small-results/work").rglob("batch-*.h5"))) == 2
    assert fdtd("place", str(room), *QUICK) == 0
    assert "6 of " in capsys.readouterr().out
    kept = Path("small-results/placement.csv").read_text()
    monkeypatch.setattr(measuring, "measure", measure)
    assert fdtd("place", str(room), "--out", "afresh", *QUICK) == 0
    assert Path("afresh/placement.csv").read_text() == kept


def test_what_is_refused(fdtd: Command, room: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for options, told in (
        (("--count", "0"), "--count: found 0, expected the most units at once, 1 to"),
        (("--perturbed-rooms", "1"), "--perturbed-rooms: found 1, expected 2 to"),
        (("--theme", "pink"), "--theme: found 'pink', expected light or dark"),
        (("--width", "wide"), "--width: found 'wide', expected column"),
        (("--precision", "half"), "--precision: found 'half'"),
    ):
        assert fdtd("place", str(room), *options) == 2
        assert told in capsys.readouterr().err
    room.write_text(SCENE.partition("[spots]")[0], encoding="utf-8")
    assert fdtd("place", str(room)) == 2
    assert "found no [spots]" in capsys.readouterr().err
    assert list(room.parent.iterdir()) == [room]


def sure(study: PlacementStudy, robust: bool, audible: float = 1.0) -> Robustness:
    """As `robustness` tells it: two places, alike or not, and a second unit that is heard in a share of the rooms."""
    from fdtd.study.shortlist import ranked_singles

    same = Spread(0.8, 0.4, 0.8, 1.1)
    behind = Spread(0.0, *[0.1 if robust else -0.1] * 3)
    singles = {
        design: PlaceConfidence(
            units_of(study, design)[0], share, share, behind, replace(same, low=low, middle=0.5 + 0.4 * low)
        )
        for design, share, low in zip(ranked_singles(study.found), (0.3, 0.9), (0.1, 0.7), strict=False)
    }
    steps = zip(study.added, (1.0, audible), strict=False)
    counts = tuple(UnitsConfidence(step.count, share, same, same) for step, share in steps)
    known = Sureness(10, 0.3, robust, asdict(Doubt()), tuple(singles.values()), counts)
    return Robustness(known, singles, tuple(singles), np.zeros((10, len(singles))))


def whole_text(done: FinishedPlacement) -> str:
    return f"{advice.advice(done)}\n\n{advice.details(done)}"


def test_doubt_is_said_first_with_the_safest_place(study: PlacementStudy) -> None:
    doubtful, study = sure(study, robust=False), replace(study, added=study.added[:1])
    told = whole_text(finished(study, robustness=doubtful))
    second = on_screen(design_text(study, list(doubtful.singles)[1]))
    best = study.places[study.added[0].scored.design.ports[0]].name
    flat = " ".join(told.split())
    place = second.partition("; ")[0]
    assert (
        flat.startswith("NOT SURE which place is best. The most robust choice: put one '")
        and f" at {place}" in flat[:240]
    )
    assert "Uncertainty: the ranking is not robust: the first two places (" in flat
    assert f"The most robust of them is {second}" in flat
    assert f"One unit: put it at {second}." in flat and f"put it at {best} " not in flat
    assert f"If it does not fit there, {best} will do as well" in flat
    certain = whole_text(finished(study, robustness=sure(study, robust=True)))
    assert certain.startswith("Put one '") and "rough estimate" not in certain
    assert "The ranking is fairly robust: " in certain


def test_a_further_unit_that_is_not_heard_is_not_advised(study: PlacementStudy) -> None:
    step = study.added[1]
    deaf = replace(step, gained=replace(step.gained, audible_at=np.zeros(2, bool), spread=0.0, benefit=0.2))
    quiet = replace(study, added=(study.added[0], deaf))
    assert count_text(quiet) == "In short: buy one. A second unit adds nothing audible."
    assert "The second unit adds nothing audible." in units.further(finished(quiet), deaf)
    nothing = replace(quiet, added=(study.added[0], replace(deaf, gained=replace(deaf.gained, benefit=-0.1))))
    assert count_text(nothing) == "In short: buy one. A second unit adds nothing."
    both = loud(study)
    assert "In short: two units are worthwhile" in count_text(both)
    assert "too few of the perturbed rooms" in count_text(both, sure(study, True, audible=0.3))


def count_text(study: PlacementStudy, robust: object = None, confirmed: object = None) -> str:
    found = place_answer.answer(finished(study, robustness=robust, confirmation=confirmed))  # type: ignore[arg-type]
    seats = [seat.name for seat in study.variant.seats]
    return how_many(found, seats, study.added[-1].gained.audible_at.tolist())  # type: ignore[arg-type]


def loud(study: PlacementStudy) -> PlacementStudy:
    """The same with a second unit that is heard."""
    step = replace(study.added[1], gained=replace(study.added[1].gained, audible_at=np.ones(2, bool), benefit=1.0))
    return replace(study, added=(study.added[0], step))


def tried(asked: Design, margin: float = 9.0, **more: object) -> SimpleNamespace:
    """As `confirm` tells of a design with active units that was built; more : what is otherwise"""
    unit = SimpleNamespace(stability=SimpleNamespace(margin_db=margin))
    figures = SimpleNamespace(benefit=0.4)
    built = {"asked": asked, "design": asked, "units": (unit,), "predicted": figures}
    return SimpleNamespace(**{**built, "simulated": figures, "grew": False, "refused": None, **more})


def confirmed(*built: SimpleNamespace) -> SimpleNamespace:
    return SimpleNamespace(built=built, singles=(), winners=())


@pytest.fixture
def active(monkeypatch: pytest.MonkeyPatch) -> None:
    """The boards of the small room taken as active units."""
    for module in (decide, units):
        monkeypatch.setattr(module, "has_active", lambda study, design: True)


@pytest.mark.usefixtures("active")
def test_units_that_would_oscillate_are_not_advised(study: PlacementStudy) -> None:
    """One source of truth: the words, the answer of the file and the designs to be simulated tell the same."""
    both = loud(study)
    one, two = (step.scored.design for step in both.added)
    near = confirmed(tried(one), tried(two, 1.5))
    told = units.further(finished(both, confirmation=near), both.added[1])  # type: ignore[arg-type]
    assert "1.5 dB more would make them oscillate: too little margin" in told and "not build this" in told
    assert count_text(both, None, near) == (
        "In short: buy one. A second unit would oscillate with only 1.5 dB more gain, which is too little margin."
    )
    whole = " ".join(whole_text(finished(both, confirmation=near)).split())  # type: ignore[arg-type]
    assert whole.startswith("Put one '") and "The gain could rise by 9.0 dB before it oscillates." in whole[:400]
    found = place_answer.answer(finished(both, confirmation=near))  # type: ignore[arg-type]
    assert found is not None and found.worthwhile == 1 and [u.place for u in found.units] == [one.ports[0] + 1]
    assert place_answer.steady_designs(finished(both, confirmation=near))[0] == one  # type: ignore[arg-type]
    never = confirmed(tried(one), tried(two, simulated=None, units=()))
    assert "at every gain tried" in units.further(finished(both, confirmation=never), both.added[1])  # type: ignore[arg-type]
    assert count_text(both, None, never) == "In short: buy one. A second unit would oscillate."
    none = confirmed(tried(one, 0.5), tried(two, 0.2))
    assert advice.advice(finished(both, confirmation=none)).startswith("Install none. The best found: ")  # type: ignore[arg-type]
    assert "buy none. It would oscillate with only 0.5 dB more gain" in count_text(both, None, none)
    enough = confirmed(tried(one), tried(two, 4.0))
    assert advice.advice(finished(both, confirmation=enough)).startswith("Put two units, ")  # type: ignore[arg-type]
    found = place_answer.answer(finished(both, confirmation=enough))  # type: ignore[arg-type]
    assert found is not None and found.worthwhile == len(found.units) == 2


@pytest.mark.usefixtures("active")
def test_gains_that_were_lowered_are_those_that_are_advised(study: PlacementStudy) -> None:
    """A design whose gains had to come down is worth what it then does; the kinds swapped stand in for it."""
    both = loud(study)
    one, two = (step.scored.design for step in both.added)
    lower = replace(two, kinds=two.kinds[::-1])
    given = confirmed(tried(one), tried(two, 5.0, design=lower))
    told = units.further(finished(both, confirmation=given), both.added[1])  # type: ignore[arg-type]
    assert "BUT at that gain they would oscillate there, or nearly: set them to 1, for " in told
    decided = decide.decide(both, None, given)  # type: ignore[arg-type]
    scores = Scores(study.given)
    change = gained(both.added[0].scored.objectives, scores.of(lower))
    assert change.benefit != pytest.approx(both.added[1].gained.benefit)
    assert decided.worthwhile == (2 if change.benefit > 0.0 and change.audible else 1)
    assert decided.design == (lower if decided.worthwhile == 2 else one)


def test_what_is_not_sure_is_said_with_several_units_too(study: PlacementStudy) -> None:
    told = " ".join(whole_text(finished(loud(study), robustness=sure(study, robust=False))).split())  # type: ignore[arg-type]
    assert told.startswith("Put two units, ") and "Not sure which places are best: for a single unit, spots " in told


def test_tables_tell_the_ranges_where_they_are_known(study: PlacementStudy) -> None:
    plain = format_placement(study, None)
    assert "top 3" not in plain.partition("The best of each")[0] and "with" in plain
    assert max(len(line) for line in plain.splitlines()) <= 120


def test_passive_units_have_no_gain_to_try(
    fdtd: Command, room: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    room.write_text(SCENE.replace("[1.0]", "[0.25, 0.5]"), encoding="utf-8")
    assert fdtd("place", str(room), *QUICK) == 0
    answer = capsys.readouterr().out.partition("excitations simulated")[0]
    assert not re.search(r"\bgain\b", answer)
    turned = rows(Path("small-results/placement.csv"))
    room.write_text(SCENE, encoding="utf-8")
    assert fdtd("place", str(room), "--out", "plain", *QUICK) == 0
    assert turned == rows(Path("plain/placement.csv")) and {float(row["gain"]) for row in turned} == {1.0}


def test_heights_on_the_plan_are_those_of_the_tables(study: PlacementStudy) -> None:
    """Of the whole unit, cabinet and all: the plan said how high the face is, 0.3 m here for a unit on the floor."""
    from fdtd.show.best_places import _text

    low = study.places[0]
    assert low.at[2] == 0.3 and low.height == "floor"
    for one in study.places:
        height = height_text(one)
        assert f", {height}" in place_text(one) and _text(one, [1]) == f"{one.number}, {height}: with 1 unit"


def test_of_mixed_kinds_only_active_ones_are_listed_at_each_gain(study: PlacementStudy) -> None:
    from fdtd.placement.search import search
    from fdtd.study.place import _each_once

    twice = replace(study.given, admittance=np.repeat(study.given.admittance, 2, axis=1))
    passive, active = study.spots.devices[0], replace(study.spots.devices[1], control=SimpleNamespace())
    found = _each_once(search(twice, 1), replace(study.spots, devices=(passive, active), gains=(0.5, 1.0)))
    kinds, places = found.singles.kinds[:, 0], len(study.places)
    assert [(kinds == 0).sum(), (kinds == 1).sum()] == [places, 2 * places]
    listed = [s.design for s in found.best if s.design.kinds == (0,)]
    assert len(listed) == len({d.ports for d in listed})
