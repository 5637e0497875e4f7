"""Each command with stand-ins below it: what it passes down, what it prints and where it writes."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import h5py
import pytest

from fdtd.cli.check import spot_facts
from fdtd.cli.tables import format_seconds
from fdtd.kernels.compiled import available_threads
from fdtd.listening.study import Listening
from fdtd.results.result import RunResult
from fdtd.results.store import read_result, write_result
from fdtd.scene.read import read_scene
from fdtd.scene.shape import Shape
from fdtd.scene.spots import survey
from fdtd.simulation.stepper import UPDATES_PER_SECOND

Calls = list[tuple[str, dict[str, object]]]
Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]


def test_check_prints_the_facts_and_draws_the_fullest_variant(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("check", "my-room.toml", "--grid", "0.12") == 0
    assert [name for name, _ in calls] == ["check", "save_drawings"]
    assert calls[0][1] == {"grid": 0.12}
    assert calls[1][1] == {"figure": "plan 1", "folder": Path("my-room-results"), "stem": "plan"}
    printed, warned = capsys.readouterr()
    assert warned == "Warning: a thin sliver\n"
    assert printed == (
        "Test room\n\n"
        "Volume                           12.35 m³\n"
        "Floor area                       5.00 m²\n"
        "Total surface area               40.00 m²\n"
        "Mean absorption, 50 to 160 Hz    0.123\n"
        "Schroeder frequency              312 Hz\n"
        "First modes of the bounding box  24.5, 30.1 Hz\n"
        "Shortest wavelength              1.72 m at 200 Hz\n"
        "Cell edges                       0.080 to 0.100 m\n"
        "Cells per shortest wavelength    17.1\n"
        "Cells                            12,345\n"
        "Time step                        150.0 µs\n"
        "Steps                            10,000 (1.50 s of sound)\n"
        "Memory                           42 MB\n"
        "Time for a run                   about 1 min 23 s\n\n"
        "Variant 'bare'    without unit\n"
        "Variant 'fitted'  everything in the scene\n\n"
        "Source 'sub'  floor and walls at 0.50, 0.50, 0.50 m add "
        "+8.7 dB at 31.5 Hz, +7.5 dB at 63 Hz, +2.3 dB at 125 Hz\n\n"
        "Files:\n"
        "  my-room-results/plan.png\n"
        "  my-room-results/plan.svg\n"
        "  my-room-results/captions.txt\n"
    )


def test_check_tells_of_candidate_places_and_what_a_placement_study_costs() -> None:
    """Of the shipped room: places and reasons as `survey` has them; cells x steps x excitations, so twice the steps are
    twice the time. (Common practice: one excitation for each loudspeaker and each candidate.)"""
    scene = read_scene(Path(__file__).parents[2] / "scenes" / "l-shaped-living-room.toml")
    assert scene.spots is not None
    found = survey(Shape(scene.room), scene.spots.start, scene.spots)
    facts = SimpleNamespace(cells=70_000, steps=48_000)
    told = spot_facts(scene, facts)  # type: ignore[arg-type]
    assert told[0] == ("Candidate places", str(len(found.candidates))) and len(found.candidates) > 20
    assert [(int(name.split()[-1]), reason) for name, reason in told[1:-1]] == [(n, why) for why, n in found.left_out]
    excitations = len(found.candidates) + len(scene.spots.start.sources)
    seconds = 70_000 * 48_000 * excitations / (UPDATES_PER_SECOND * available_threads())
    assert told[-1] == (
        "Time for fdtd place",
        f"about {format_seconds(seconds)} for the sound in the room, then the search",
    )
    assert spot_facts(replace(scene, spots=None), facts) == []  # type: ignore[arg-type]


def test_check_draws_where_it_is_said(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("check", "room.toml", "--figure", "pictures/room.png") == 0
    assert calls[1][1] == {"figure": "plan 1", "folder": Path("pictures"), "stem": "room"}
    assert "captions" not in capsys.readouterr().out
    assert fdtd("check", "room.toml", "--figure", "room.pdf") == 2
    assert capsys.readouterr().err.endswith(
        "Error: --figure: found room.pdf, expected a name that ends in .png or .svg.\n"
    )


def test_run_passes_its_options_on(calls: Calls, fdtd: Command) -> None:
    options = ("--grid", "0.15", "--frequencies", "34.5,52", "--duration", "1.5", "--device", "cpu")
    assert fdtd("run", "room.toml", "--out", "here", *options, "--precision", "single", "--no-figures") == 0
    (name, passed), *others = calls
    assert (name, others) == ("run", [])
    assert callable(passed.pop("progress"))
    execution = passed.pop("execution")
    assert (execution.precision, execution.device) == ("single", "cpu")
    assert passed == {"grid": 0.15, "frequencies": (34.5, 52.0), "duration": 1.5}
    tables = ["decay.csv", "levels.csv", "resonances.csv", "responses.csv", "result.h5", "tail.csv"]
    assert sorted(path.name for path in Path("here").iterdir()) == tables


def test_run_leaves_the_choice_to_the_program(calls: Calls, fdtd: Command) -> None:
    assert fdtd("run", "room.toml") == 0
    (_, passed), (second, drawn) = calls
    execution = passed["execution"]
    assert (execution.precision, execution.device) == ("double", "auto")
    assert {name: passed[name] for name in ("grid", "frequencies", "duration")} == {
        "grid": None,
        "frequencies": None,
        "duration": None,
    }
    assert (second, drawn["folder"]) == ("save_figures", Path("room-results"))


def test_run_writes_what_it_computed_and_prints_the_change(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("run", "room.toml", "--out", "here") == 0
    assert [v.name for v in read_result(Path("here/result.h5")).variants] == ["bare", "fitted"]
    printed = capsys.readouterr().out
    first, second = (part.splitlines() for part in printed.split("At ")[1:3])
    # A resonance 20 log10(1.1) = 0.8 dB high at 40 Hz, halved by the fitting: -6.0 dB everywhere, as even as before.
    assert first[0].split() == ["'sofa'", "40.0", "Hz", "Std.", "dev.", "Largest", "peak", "Deepest", "dip"]
    untreated, fitted, change = (line.split() for line in first[2:5])
    assert (untreated[:2], fitted[:2]) == (["bare", "0.8"], ["fitted", "-5.2"])
    assert change == ["fitted", "against", "bare", "-6.0", "+0.0", "+0.0", "+0.0"]
    assert " at 40.0 Hz" in first[2]
    assert second[3].split() == ["fitted", "(not", "in", "this", "variant)"]
    assert second[4].split() == ["fitted", "against", "bare"]
    names = ("result.h5", "responses.csv", "resonances.csv", "decay.csv", "tail.csv", "levels.csv", "response.png")
    assert printed.splitlines()[-10:-1] == ["Files:", *(f"  here/{name}" for name in names), ""]
    assert printed.splitlines()[-1].startswith("Caution: loud bass tones can damage loudspeakers and hearing.")


def test_run_tells_what_is_heard(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("run", "room.toml", "--out", "here", "--tones", "31") == 0
    printed = capsys.readouterr().out
    assert (
        "At 'sofa' the 40.0 Hz resonance is 6.0 dB quieter with 'fitted' than with 'bare'; a 31.0 Hz tone is" in printed
    )
    assert "31.0 Hz (yours)  bare" in printed
    listening = calls[-1][1]["listening"]
    assert isinstance(listening, Listening) and listening.own_tones == (31.0,)
    with Path("here/tail.csv").open(newline="") as file:
        assert {row["seat"] for row in csv.DictReader(file) if row["tone_hz"] == "31"} == {"sofa", "desk"}
    with h5py.File("here/result.h5") as file:
        assert 31.0 in file["variants/bare/listening/tone"][()]


def test_a_run_too_short_to_tell_still_has_its_results(
    stand_in: Callable[..., None], calls: Calls, run_result: RunResult, fdtd: Command, capsys: Capture
) -> None:
    cut = (replace(v, impulse=v.impulse[..., :20]) for v in run_result.variants)
    short = replace(run_result, time=run_result.time[:20], variants=tuple(cut))
    stand_in("fdtd.workflow", run=lambda scene, **options: short)
    assert fdtd("run", "room.toml", "--out", "here") == 0
    assert "\nNote: what is heard cannot be worked out from this run: " in capsys.readouterr().out
    assert sorted(path.name for path in Path("here").iterdir()) == ["responses.csv", "result.h5"]
    assert calls[-1][1]["listening"] is None


@pytest.mark.parametrize(
    "option", [("--grid", "10"), ("--duration", "0"), ("--precision", "half"), ("--tones", "fifty")]
)
def test_run_refuses_before_any_work(calls: Calls, fdtd: Command, capsys: Capture, option: tuple[str, str]) -> None:
    assert fdtd("run", "room.toml", *option) == 2
    assert capsys.readouterr().err.replace("'", "").startswith(f"Error: {option[0]}: found {option[1]}, expected ")
    assert not calls


def test_show_draws_from_the_file_alone(calls: Calls, run_result: RunResult, fdtd: Command, capsys: Capture) -> None:
    Path("kept").mkdir()
    write_result(run_result, Path("kept/result.h5"))
    assert fdtd("show", "kept/result.h5") == 0
    assert fdtd("show", "kept/result.h5", "--out", "again") == 0
    assert [options["folder"] for _, options in calls] == [Path("kept"), Path("again")]
    assert all(isinstance(options["listening"], Listening) for _, options in calls)
    printed = capsys.readouterr().out
    assert printed.startswith("Test room: computed 2026-01-01 by version 0.1.0\n\nFiles:\n  kept/response.png\n")


def test_show_says_that_the_simulation_was_too_short_and_tells_the_users_tones(
    calls: Calls, run_result: RunResult, fdtd: Command, capsys: Capture
) -> None:
    write_result(run_result, Path("whole.h5"))
    assert fdtd("show", "whole.h5", "--tones", "31") == 0
    printed = capsys.readouterr().out
    assert "31.0 Hz (yours)  bare" in printed and "40.0 Hz" not in printed and "too short" not in printed
    cut = tuple(replace(v, fallen=12.0) for v in run_result.variants)
    write_result(replace(run_result, variants=cut), Path("cut.h5"))
    assert fdtd("show", "cut.h5") == 0
    assert (
        "Note: simulation too short ('bare' ended after 1.00 s, when the sound was 12 dB down"
        in capsys.readouterr().out
    )
    tiny = tuple(replace(v, duration=0.05) for v in run_result.variants)
    write_result(replace(run_result, variants=tiny), Path("tiny.h5"))
    assert fdtd("show", "tiny.h5") == 0
    assert "Note: what is heard cannot be worked out from this run: it has 0.05 s of sound" in capsys.readouterr().out


def test_run_tells_what_walls_add_to_each_source(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("run", "room.toml", "--no-figures") == 0
    assert "Source 'sub'  floor and walls at 0.50, 0.50, 0.50 m add +8.7 dB at 31.5 Hz" in capsys.readouterr().out


def test_modes_lists_draws_and_writes(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("modes", "room.toml", "--count", "2") == 0
    assert calls[0] == ("modes", {"count": 2, "grid": None, "variant": 1})
    assert calls[1][1] == {"figure": "modes of variant 1", "folder": Path("room-results"), "stem": "modes"}
    printed = capsys.readouterr().out.splitlines()
    assert printed[0] == "Test room: modes with rigid walls, variant 'fitted'"
    assert [line.split() for line in printed[4:6]] == [["1", "24.500"], ["2", "49.010"]]
    with Path("room-results/modes.csv").open(newline="") as file:
        assert list(csv.reader(file)) == [["mode", "frequency_hz"], ["1", "24.500000"], ["2", "49.010000"]]


def test_modes_of_a_named_variant(calls: Calls, fdtd: Command, capsys: Capture) -> None:
    assert fdtd("modes", "room.toml", "--variant", "bare") == 0
    assert calls[0][1]["variant"] == 0
    assert fdtd("modes", "room.toml", "--variant", "bear") == 2
    assert capsys.readouterr().err == "Error: --variant: found 'bear', expected one of: bare, fitted.\n"
    assert fdtd("modes", "room.toml", "--count", "0") == 2
    assert capsys.readouterr().err == "Error: --count: found 0, expected 1 to 500 modes.\n"
